"""A stage keeps a log, uses nothing damaged, records what it wrote, and fails in words."""

import errno
from types import SimpleNamespace

import pytest

from workflow import memory
from workflow.integrity import read_record, record_of, sum_of
from workflow.job import in_words, job
from workflow.memory_room import Room


@pytest.fixture
def stage(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return SimpleNamespace(
        rule="equilibrium",
        wildcards={"case": "x"},
        input=[],
        output=["results/out.json"],
        log=["results/logs/equilibrium.log"],
        resources={"mem_mb": 1},
    )


def text(stage):
    with open(stage.log[0], encoding="utf-8") as file:
        return file.read()


def write(stage, content="{}"):
    with open(stage.output[0], "w", encoding="utf-8") as file:
        file.write(content)


def test_log_tells_the_story(stage, capsys):
    with job(stage):
        print("halfway")
        write(stage)
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
    assert text(stage).endswith("equilibrium case=x: failed: the couple is out of reach\n")


def test_unforeseen_failure_is_not_hidden(stage):
    with pytest.raises(KeyError), job(stage):
        {}["missing"]
    assert "KeyError" in text(stage)


def test_what_was_written_is_recorded_last(stage):
    record = record_of(stage.log[0])
    with job(stage):
        write(stage)
        assert not record.exists()
    (entry,) = read_record(record)
    assert (str(entry.path), entry.sum) == (stage.output[0], sum_of(entry.path))


def test_a_job_that_fails_leaves_no_record(stage):
    record = record_of(stage.log[0])
    with job(stage):
        write(stage)
    assert record.exists()
    with pytest.raises(SystemExit), job(stage):
        raise ValueError("no")
    assert not record.exists()


def test_an_output_that_was_not_written_is_named(stage):
    with pytest.raises(SystemExit, match=r"results/out\.json was not written"), job(stage):
        pass


def test_a_damaged_input_is_never_read(stage):
    with job(stage):
        write(stage)
    write(stage, "[]")
    after = SimpleNamespace(**vars(stage) | {"rule": "response", "input": stage.output})
    after.log, after.output = ["results/logs/response.log"], ["results/response.json"]
    with pytest.raises(SystemExit) as failed, job(after):
        pytest.fail("the body runs")
    assert "results/out.json: is not what its job wrote" in str(failed.value)
    assert "--forcerun results/out.json" in str(failed.value)


def test_too_little_memory_is_said_before_anything_is_computed(stage, monkeypatch):
    monkeypatch.setattr(memory, "memory_room", lambda: Room(1500.0, "", "close other programs"))
    stage.resources = {"mem_mb": 6000}
    with pytest.raises(SystemExit) as failed, job(stage):
        pytest.fail("the body runs")
    assert "needs about 6000 MB of memory, and 1500 MB are free" in str(failed.value)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(errno.ENOSPC, "No space left on device", "a/b"), "a/b: no room left on the disk"),
        (OSError(errno.EROFS, "Read-only file system", "a/b"), "a/b: may not be written"),
        (FileNotFoundError(errno.ENOENT, "No such file", "scan.stl"), "scan.stl: is missing"),
        (MemoryError("Unable to allocate 9 GiB"), "not enough memory (Unable to allocate 9 GiB)"),
    ],
)
def test_faults_of_the_machine_end_in_words(stage, error, words):
    with pytest.raises(SystemExit) as failed, job(stage):
        raise error
    assert str(failed.value).startswith(f"equilibrium case=x: {words}")
    assert "run the same command again" in in_words(error)


def test_a_log_that_cannot_be_kept_ends_in_words(stage, tmp_path):
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "logs").write_text("in the way", encoding="utf-8")
    with pytest.raises(SystemExit, match="equilibrium case=x: "), job(stage):
        pass
