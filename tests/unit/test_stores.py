"""Stores of teeth and of runs use nothing that is not what was put into them."""

import pandas as pd
import pytest

from workflow.integrity import DamagedError
from workflow.sweep_store import NOTE, RUN, SUPPORTS, RunStore
from workflow.tooth_store import FILES, MadeTooth, ToothStore, damaged_teeth, reason_against


@pytest.fixture
def teeth(tmp_path):
    store = ToothStore(tmp_path / "teeth", "code")
    for name in ("one", "two"):

        def write(folder, name=name):
            for file in FILES:
                (folder / file).write_text(f"{file} of {name}", encoding="utf-8")

        store.add(MadeTooth(name, 37, "code", 1.0, 1.0, "", {}), write)
    return store


def test_whole_teeth_are_used(teeth):
    assert reason_against(teeth.folder, "one") == ""
    assert damaged_teeth(teeth.folder) == []


@pytest.mark.parametrize("name", FILES)
def test_a_changed_file_of_a_tooth_is_refused_by_whoever_reads_it(teeth, name):
    (teeth.folder / "one" / name).write_text(f"{name} of two", encoding="utf-8")
    with pytest.raises(DamagedError, match=rf"one/{name}: is not what its job wrote"):
        reason_against(teeth.folder, "one")
    (fault,) = damaged_teeth(teeth.folder)
    assert fault.force == "sweep_teeth"
    assert teeth.find("one") is None


def test_exchanged_teeth_are_found(teeth):
    one, two, aside = (teeth.folder / name for name in ("one", "two", "aside"))
    one.rename(aside)
    two.rename(one)
    aside.rename(two)
    assert [fault.what for fault in damaged_teeth(teeth.folder)] == [
        "is that of two",
        "is that of one",
    ]
    assert teeth.find("one") is None


def test_a_tooth_that_lost_its_record_is_refused(teeth):
    (teeth.folder / "one" / "tooth.json").unlink()
    with pytest.raises(DamagedError, match=r"one/tooth\.json: cannot be read"):
        reason_against(teeth.folder, "one")


@pytest.mark.parametrize("change", ["bit", "name"])
def test_a_chunk_of_runs_is_used_only_as_it_was_written(tmp_path, capsys, change):
    store = RunStore(tmp_path, "code")
    store.add(pd.DataFrame({RUN: ["a"], SUPPORTS: ["s"], NOTE: [""], "force_N": [0.25]}))
    assert store.finished(["force_N"])["force_N"].tolist() == [0.25]
    (path,) = tmp_path.glob("*.parquet")
    if change == "bit":
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 1
        path.write_bytes(content)
    else:
        path.rename(path.with_stem("0" * 16))
    assert store.finished(["force_N"]).empty
    assert "its content is not what was written" in capsys.readouterr().out
    assert not list(tmp_path.glob("*.parquet"))
