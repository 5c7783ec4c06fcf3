"""A stage keeps a log and fails in words."""

from types import SimpleNamespace

import pytest

from workflow.job import job


@pytest.fixture
def stage(tmp_path):
    log = str(tmp_path / "logs" / "stage.log")
    return SimpleNamespace(rule="equilibrium", wildcards={"case": "x"}, log=[log])


def text(stage):
    with open(stage.log[0], encoding="utf-8") as file:
        return file.read()


def test_log_tells_the_story(stage, capsys):
    with job(stage):
        print("halfway")
    assert text(stage).startswith("equilibrium case=x: started")
    assert "halfway" in text(stage)
    assert "finished in" in text(stage)
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize("error", [ValueError, RuntimeError])
def test_foreseen_failure_is_one_line(stage, error):
    with pytest.raises(SystemExit) as failed, job(stage):
        raise error("the couple is out of reach")
    assert str(failed.value) == "equilibrium case=x: the couple is out of reach"
    assert "Traceback" in text(stage)


def test_unforeseen_failure_is_not_hidden(stage):
    with pytest.raises(KeyError), job(stage):
        {}["missing"]
    assert "KeyError" in text(stage)
