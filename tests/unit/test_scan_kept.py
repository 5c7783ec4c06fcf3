"""What is kept of a scan: used only as it was written, read again where it was not."""

import os
import shutil
import signal
from pathlib import Path

import pytest
import pyvista as pv
import yaml

from geometry.anatomy import tooth_dimensions
from geometry.tooth import tooth_surface
from tests.campaigns.corruption import flip, truncate
from tests.project import CASE, ROOT
from workflow import scan_files
from workflow.case import resolved, validate_case
from workflow.integrity import read_record
from workflow.scan_files import load_scan, read_and_keep
from workflow.scanned import FOLDER, RECORD, SUMS, SURFACE, faults_of_kept, scan_folder, scan_record
from workflow.tooth_specs import shape_spec, support_spec

TOOTH, FILE, LINE = 33, "canine.stl", "crest.csv"
FILES = (RECORD, SURFACE, SUMS)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """A folder with a scan that was read: a drawn canine, which any machine has."""
    folder = tmp_path_factory.mktemp("kept")
    surface = tooth_surface(tooth_dimensions(TOOTH), 0.5)
    pv.PolyData.from_regular_faces(surface.points, surface.triangles.astype(int)).save(
        folder / FILE
    )
    (folder / LINE).write_text("x_mm,y_mm,z_mm\n0,0,-1\n", encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        read_and_keep(spec())
    return folder


@pytest.fixture(autouse=True)
def here(kept, tmp_path, monkeypatch):
    """A copy of it, to be damaged."""
    shutil.copytree(kept, tmp_path, dirs_exist_ok=True, copy_function=shutil.copy2)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def spec(**scan):
    """Shape and support of the scanned tooth, from a case read here."""
    data = yaml.safe_load((ROOT / "configs/cases" / f"{CASE}.yaml").read_text(encoding="utf-8"))
    data["teeth"][TOOTH] = {"scan": {"file": FILE, **scan}}
    case = resolved(validate_case(data, "case.yaml"))
    return support_spec(case, TOOTH) | shape_spec(case, TOOTH)


def contents(shape):
    return {name: (scan_folder(shape) / name).read_bytes() for name in FILES}


def test_what_is_whole_is_used_as_it_is(capsys, monkeypatch):
    monkeypatch.setattr("workflow.scan_files._read", None)  # reading it would fail
    shape = spec()
    assert faults_of_kept(scan_folder(shape)) == []
    assert scan_record(shape)["measures"]["crown_length_mm"] == pytest.approx(11.0, abs=0.5)
    assert load_scan(shape).surface.is_closed()
    assert capsys.readouterr().err == ""


def shifted(path):
    """Another number of the same length, as no reader would notice."""
    text = path.read_text(encoding="utf-8")
    digit = text.index(".", text.index("crown_length_mm")) + 1
    changed = str((int(text[digit]) + 5) % 10)
    path.write_text(text[:digit] + changed + text[digit + 1 :], encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "damage", "words"),
    [
        (RECORD, flip, f"{RECORD}: is not what its job wrote"),
        (RECORD, shifted, f"{RECORD}: is not what its job wrote"),
        (SURFACE, flip, f"{SURFACE}: is not what its job wrote"),
        (RECORD, truncate, f"{RECORD}: is not what its job wrote"),
        (SURFACE, truncate, f"{SURFACE}: is not what its job wrote"),
        (SURFACE, lambda path: path.write_bytes(b""), f"{SURFACE}: is empty"),
        (RECORD, os.unlink, f"{RECORD}: is missing"),
        (SURFACE, os.unlink, f"{SURFACE}: is missing"),
        (SUMS, os.unlink, f"{SUMS}: is no record"),
        (SUMS, truncate, f"{SUMS}: is no record"),
    ],
)
def test_damage_is_said_and_mended_from_the_scan(name, damage, words, capsys):
    shape = spec()
    before = contents(shape)
    damage(scan_folder(shape) / name)
    load_scan(shape)
    said = capsys.readouterr().err
    assert words in said
    assert f"{FILE} is read again" in said
    assert contents(shape) == before
    load_scan(shape)
    assert capsys.readouterr().err == ""
    assert os.listdir(FOLDER) == [scan_folder(shape).name]


def test_folders_of_two_scans_exchanged_are_noticed(capsys):
    one, other = spec(), spec(long_axis=[0.0, 0.0, 1.0])
    scan_record(other)
    first, second, aside = scan_folder(one), scan_folder(other), FOLDER / "aside"
    first.rename(aside)
    second.rename(first)
    aside.rename(second)
    assert scan_record(one)["long_axis_by"] != scan_record(other)["long_axis_by"] == "given"
    assert capsys.readouterr().err.count("is read again") == 2


@pytest.mark.parametrize("written", ["write_json", "write_entries"])
def test_who_is_killed_while_writing_leaves_nothing_that_counts(written, monkeypatch):
    shape, folder = spec(), scan_folder(spec())
    shutil.rmtree(folder)
    if (child := os.fork()) == 0:
        monkeypatch.setattr(scan_files, written, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
        read_and_keep(shape)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL
    assert not folder.exists()
    assert load_scan(shape).surface.is_closed()
    assert faults_of_kept(folder) == []


def test_what_another_process_has_put_there_meanwhile_is_kept():
    shape = spec()
    before = {name: (scan_folder(shape) / name).stat().st_ino for name in FILES}
    read_and_keep(shape)
    assert {name: (scan_folder(shape) / name).stat().st_ino for name in FILES} == before


def test_the_record_is_read_as_those_of_jobs_are():
    """Paths from the folder of the run, as `sha256sum` and `workflow.integrity` read them."""
    folder = scan_folder(spec())
    assert [entry.fault() for entry in read_record(folder / SUMS)] == ["", ""]


def test_a_scan_lost_after_its_case_was_read_is_not_needed_while_what_is_kept_is_whole():
    shape = spec()
    os.unlink(FILE)
    assert load_scan(shape).surface.is_closed()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda: os.unlink(FILE), rf"{FILE}: is gone since the case was read; put it back"),
        (lambda: flip(Path(FILE)), rf"{FILE}: was changed since the case was read; run the same"),
    ],
)
def test_what_is_damaged_is_never_made_again_from_another_file(change, words):
    shape = spec()
    flip(scan_folder(shape) / SURFACE)
    damaged = contents(shape)
    change()
    with pytest.raises(ValueError, match=words):
        load_scan(shape)
    assert contents(shape) == damaged


def test_a_scan_that_changes_while_it_is_read_is_not_kept(monkeypatch):
    shape, folder = spec(), scan_folder(spec())
    shutil.rmtree(folder)
    tooth = scan_files._read(TOOTH, shape["scan"])

    def meanwhile(*_):
        flip(Path(FILE))
        return tooth

    monkeypatch.setattr(scan_files, "_read", meanwhile)
    with pytest.raises(ValueError, match=f"{FILE}: was changed since the case was read"):
        scan_record(shape)
    assert not folder.exists()


@pytest.mark.parametrize(
    ("change", "words"), [(os.unlink, "is gone since"), (flip, "was changed since")]
)
def test_a_drawn_crest_is_read_only_as_it_was_planned(change, words):
    shape = spec(crest_line=LINE)
    change(Path(LINE))
    with pytest.raises(ValueError, match=f"{LINE}: {words} the case was read"):
        load_scan(shape).crest(shape)
