"""Teeth of studies, made in chunks: what is kept, what is made again, and what cannot be made."""

import copy
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from geometry.mesh import TetMesh
from tests.sweeps import loaded
from workflow import tooth_chunks
from workflow.case import load_case, resolved
from workflow.digest import spec_id
from workflow.records import read_json
from workflow.supports import compute_support, load_stress_basis
from workflow.sweep_chunks import CHUNK, MOST_ALONE, chunks_of, in_chunks, teeth_text
from workflow.sweep_supports import study_supports
from workflow.sweep_table import failures, study_table
from workflow.tooth_chunks import make_teeth
from workflow.tooth_meshes import build_mesh, save_mesh
from workflow.tooth_specs import support_spec
from workflow.tooth_store import FILES, RECORD, ToothStore, reason_against

ROOT = Path(__file__).parents[2]
COARSE = {
    "mesh.root_size_mm": 1.5,
    "units.segment.teeth": [35],
    "one_point.tooth": 35,
}
LENGTHS = (12.0, 12.5, 13.0)


def specs_of(*root_lengths, **changes):
    """Upper incisors, coarsely meshed, by their ids."""
    case = resolved(load_case("configs/cases/upper_incisor_intrusion.yaml"))
    base = support_spec(case, 21) | {"root_size_mm": 1.5, "layers": 1}
    specs = [base | {"dimensions": {"root_length_mm": h}} | changes for h in root_lengths]
    return {spec_id(spec): spec for spec in specs}


def contents(store):
    return {p.relative_to(store.folder): p.read_bytes() for p in store.folder.rglob("*.*")}


def made_here(records):
    return [record["made_here"] for record in records]


@pytest.fixture(scope="module")
def first(tmp_path_factory):
    """Two teeth, made once; tests work on copies."""
    store = ToothStore(tmp_path_factory.mktemp("teeth") / "store", "code")
    assert made_here(make_teeth(specs_of(*LENGTHS[:2]), store)) == [True, True]
    return store


@pytest.fixture
def store(first, tmp_path):
    return ToothStore(shutil.copytree(first.folder, tmp_path / "store"), "code")


def test_a_tooth_of_the_store_is_that_of_the_rules(store, tmp_path):
    """The same steps by files, as the rules of single teeth take them: the same numbers."""
    (support, spec), *_ = specs_of(LENGTHS[0]).items()
    mesh, built = build_mesh(spec)
    save_mesh(tmp_path / "mesh.vtu", tmp_path / "mesh.json", spec, mesh, built)
    alone = compute_support(TetMesh.read_vtu(tmp_path / "mesh.vtu"), spec)
    record = read_json(store.folder / support / "support.json")
    assert np.array(record["stiffness"]) == pytest.approx(alone.stiffness, rel=1e-9, abs=1e-9)
    assert record["spec"] == spec
    basis, _ = load_stress_basis(store.folder / support / "stress_basis.npz")
    assert np.abs(basis.values - alone.basis.values).max() < 1e-6 * np.abs(alone.basis.values).max()


def test_finished_teeth_are_kept_and_an_added_one_is_made(store):
    before = contents(store)
    assert made_here(make_teeth(specs_of(*LENGTHS[:2]), store)) == [False, False]
    assert contents(store) == before
    assert made_here(make_teeth(specs_of(*LENGTHS), store)) == [False, False, True]
    after = contents(store)
    assert before.items() < after.items()
    assert made_here(make_teeth(specs_of(*LENGTHS), store)) == [False, False, False]


@pytest.mark.parametrize("name", [*FILES, RECORD])
@pytest.mark.parametrize("left", [0.0, 0.5, 0.99])
def test_a_truncated_file_is_found_and_its_tooth_made_again(store, capsys, name, left):
    first, second = specs_of(*LENGTHS[:2])
    path = store.folder / first / name
    whole = path.read_bytes()
    path.write_bytes(whole[: int(left * len(whole))])
    assert store.find(first) is None
    assert f"{first}: " in capsys.readouterr().out
    assert store.find(second) is not None
    if left == 0.5:
        assert made_here(make_teeth(specs_of(*LENGTHS[:2]), store)) == [True, False]
        assert store.find(first) is not None
        json.loads((store.folder / first / "support.json").read_text("utf-8"))


def test_a_lost_file_is_found(store):
    first, _ = specs_of(*LENGTHS[:2])
    (store.folder / first / "stress_basis.npz").unlink()
    assert store.find(first) is None


def test_teeth_of_other_code_are_made_again(store, capsys):
    first, _ = specs_of(*LENGTHS[:2])
    later = ToothStore(store.folder, "another")
    assert later.find(first) is None
    assert "of other code" in capsys.readouterr().out
    assert made_here(make_teeth(specs_of(*LENGTHS[:1]), later)) == [True]
    assert later.find(first).code == "another"
    assert store.find(first) is None


def test_a_kill_loses_the_running_tooth_alone(store, monkeypatch):
    """Killed while the third tooth is written: two are whole, and no trace of the third counts."""
    save = tooth_chunks.save_support

    def killed(folder, *parts):
        save(folder, *parts)
        raise KeyboardInterrupt

    monkeypatch.setattr(tooth_chunks, "save_support", killed)
    with pytest.raises(KeyboardInterrupt):
        make_teeth(specs_of(*LENGTHS), store)
    monkeypatch.setattr(tooth_chunks, "save_support", save)
    third = list(specs_of(*LENGTHS))[2]
    assert store.find(third) is None
    assert not (store.folder / third).exists()
    assert made_here(make_teeth(specs_of(*LENGTHS), store)) == [False, False, True]


KILLED = """
import sys
from tests.verification.test_tooth_store import LENGTHS, specs_of
from workflow.tooth_chunks import make_teeth
from workflow.tooth_store import ToothStore
make_teeth(specs_of(*LENGTHS, *[13.1, 13.2, 13.3]), ToothStore(sys.argv[1], "code"))
"""


def test_a_process_that_is_killed_leaves_whole_teeth(tmp_path):
    """SIGKILL at an unforeseen moment after the first of six teeth is there."""
    store = ToothStore(tmp_path / "store", "code")
    specs = specs_of(*LENGTHS, 13.1, 13.2, 13.3)
    process = subprocess.Popen([sys.executable, "-c", KILLED, str(store.folder)], cwd=ROOT)
    try:
        while not (store.folder / next(iter(specs))).exists():
            assert process.poll() is None
            time.sleep(0.01)
        time.sleep(0.3)
    finally:
        process.kill()
        process.wait()
    there = [name for name in specs if (store.folder / name).exists()]
    assert 1 <= len(there) < 6
    assert all(store.find(name) is not None for name in there)
    assert made_here(make_teeth(specs, store)) == [name not in there for name in specs]


def test_a_folder_left_by_a_dead_process_counts_for_nothing(store):
    """A power cut leaves the folder of another name: neither found nor in the way."""
    first, _ = specs_of(*LENGTHS[:2])
    left = store.folder / f"{first}-0123abcd.part"
    (store.folder / first).rename(left)
    assert store.find(first) is None
    assert made_here(make_teeth(specs_of(*LENGTHS[:2]), store)) == [True, False]
    assert left.exists()  # it might be another job's
    os.utime(left, times=(time.time() - 90_000,) * 2)
    make_teeth(specs_of(*LENGTHS[:2]), store)
    assert not left.exists()


def test_a_tooth_that_cannot_be_made_is_kept_as_its_reason(store, monkeypatch):
    """A crest below the apex: no ligament is left, and none is tried for twice."""
    failing = specs_of(12.0, crest_depth_mm=15.5)
    records = make_teeth(specs_of(12.0) | failing, store)
    assert [bool(record["reason"]) for record in records] == [False, True]
    (support,) = failing
    assert reason_against(store.folder, support) == records[1]["reason"]
    assert reason_against(store.folder, next(iter(specs_of(12.0)))) == ""
    monkeypatch.setattr(tooth_chunks, "build_mesh", None)
    assert made_here(make_teeth(failing, store)) == [False]
    text = teeth_text(records)
    assert "2 different teeth: 1 made, 1 that could not be" in text
    assert f"- Tooth 21 ({support}): {records[1]['reason']}" in text


def test_a_run_of_a_tooth_that_failed_is_a_row_with_the_reason(tmp_path, monkeypatch):
    """Two bone levels, the second of them with no tooth."""
    levels = {"name": "crest_mm", "key": "teeth.35.crest_depth_mm", "levels": [1.5, 4.5]}
    study = loaded(tmp_path, factors=[levels], fixed=COARSE)
    specs = study_supports(study)
    build = build_mesh

    def refusing(spec):
        if spec["crest_depth_mm"] == 4.5:
            raise ValueError("an element\nis upside down")
        return build(spec)

    monkeypatch.setattr(tooth_chunks, "build_mesh", refusing)
    store = ToothStore(tmp_path / "teeth", "code")
    make_teeth(specs, store)
    table = study_table(study, store.folder, tmp_path / "store")
    assert failures(table.rows).tolist() == [False, True]
    reason = "tooth 35 could not be made: an element is upside down"
    assert table.rows["note"].tolist() == ["", reason]
    assert table.rows["force_N"].notna().tolist() == [True, False]
    assert study_table(study, store.folder, tmp_path / "store").computed == 0

    def worse(spec):
        raise ValueError("another reason")

    monkeypatch.setattr(tooth_chunks, "build_mesh", worse)
    make_teeth(specs, ToothStore(store.folder, "worse code"))
    notes = study_table(study, store.folder, tmp_path / "store").rows["note"]
    assert all(note.endswith("could not be made: another reason") for note in notes)

    monkeypatch.setattr(tooth_chunks, "build_mesh", build)
    better = ToothStore(store.folder, "better code")
    make_teeth(specs, better)
    mended = study_table(study, store.folder, tmp_path / "store")
    assert mended.failed == 0
    assert mended.rows["force_N"].notna().all()


def test_two_jobs_may_make_the_same_tooth(store):
    """The second finds the place taken by the same tooth, and leaves one whole tooth."""
    (support, spec), *_ = specs_of(LENGTHS[0]).items()
    made = tooth_chunks.make_tooth(support, spec, store)
    assert store.find(support) == made
    assert not list(store.folder.glob("*.part"))


def test_many_teeth_are_dealt_out_in_chunks_that_grow_at_the_end():
    specs = {f"{k:012d}": {"tooth": 37, "k": k} for k in range(2 * CHUNK + 1)}
    chunks = chunks_of(specs)
    assert [len(chunk) for chunk in chunks] == [CHUNK, CHUNK, 1]
    more = chunks_of(copy.deepcopy(specs) | {"f" * 12: {"tooth": 37, "k": -1}})
    assert more[:2] == chunks[:2]
    assert list(more[2]) == [*chunks[2], "f" * 12]
    assert not in_chunks(MOST_ALONE, None)
    assert in_chunks(MOST_ALONE + 1, None)
    assert in_chunks(1, True)
    assert not in_chunks(MOST_ALONE + 1, False)


def test_one_sample_more_adds_one_tooth(tmp_path):
    """Random points keep their first rows: 5 teeth, then 6 of which 5 are the same."""
    drawn = [
        {
            "name": key,
            "key": f"teeth.37.dimensions.{key}_mm",
            "normal": {"mean": mean, "sd": 0.5, "low": mean - 1.5, "high": mean + 1.5},
        }
        for key, mean in (("root_length", 13.0), ("cervix_md", 8.0))
    ]
    five, six = (
        study_supports(loaded(tmp_path, factors=drawn, design={"random": {"runs": n, "seed": 1}}))
        for n in (5, 6)
    )
    molars = [
        [name for name, spec in found.items() if spec["tooth"] == 37] for found in (five, six)
    ]
    assert [len(found) for found in molars] == [5, 6]
    assert molars[0] == molars[1][:5]
