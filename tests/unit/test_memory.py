"""A job is refused where a limit leaves too little, and takes no more than was foretold."""

import json
import os
import re
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest

from workflow import memory_room as rooms
from workflow.case import load_case, resolved
from workflow.support_cost import cost_of_support
from workflow.tooth_meshes import build_mesh, save_mesh
from workflow.tooth_specs import support_spec

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "workflow" / "scripts" / "tooth_support.py"
MB = 2**20
# Snakemake tells the libraries how many threads a job may have.
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
# A stage as Snakemake runs it, in a process of its own; what it held at most is printed.
RUNNER = """
import json, pathlib, resource, runpy, sys
from types import SimpleNamespace

class Files(list):
    def __init__(self, files):
        super().__init__(files.values())
        self.__dict__.update(files)

def held_MB(name):
    words = pathlib.Path("/proc/self/status").read_text().split()
    return int(words[words.index(name) + 1]) / 1024

stage, limit, more_MB = json.loads(sys.argv[1]), sys.argv[2], float(sys.argv[3])
import workflow.supports, workflow.job
if limit:
    used = held_MB({"RLIMIT_AS": "VmSize:", "RLIMIT_DATA": "VmData:"}[limit])
    most = int((used + more_MB) * 2**20)
    resource.setrlimit(getattr(resource, limit), (most, most))
files = {name: Files(stage.pop(name)) for name in ("input", "output")}
stage["params"] = SimpleNamespace(**stage["params"])
try:
    runpy.run_path(sys.argv[4], {"snakemake": SimpleNamespace(**stage, **files)})
finally:
    print(json.dumps({"peak_MB": held_MB("VmHWM:")}))
"""


@pytest.fixture(scope="module")
def stage(tmp_path_factory):
    """The support of the demonstration's molar, meshed as its case says."""
    folder = tmp_path_factory.mktemp("support")
    spec = support_spec(resolved(load_case(ROOT / "configs/cases/lower_molar_uprighting.yaml")), 37)
    mesh, built = build_mesh(spec)
    files = {name: folder / name for name in ("mesh.vtu", "mesh.json", "support.json", "log")}
    save_mesh(files["mesh.vtu"], files["mesh.json"], spec, mesh, built)
    foretold = cost_of_support(spec, json.loads(files["mesh.json"].read_text(encoding="utf-8")))
    return {
        "rule": "tooth_support",
        "wildcards": {"support": "x"},
        "input": {"mesh": str(files["mesh.vtu"]), "meshed": str(files["mesh.json"])},
        "output": {"record": str(files["support.json"])},
        "params": {"spec": spec},
        "log": [str(files["log"])],
        "resources": {"mem_mb": foretold.memory_MB},
    }


def run(stage, limit="", more_MB=0.0, group=None, **environment):
    """Run a stage, with `more_MB` above what its modules take: status, peak in MB, its words."""
    given = [json.dumps(stage), limit, str(more_MB), str(SCRIPT)]
    command = [sys.executable, "-c", RUNNER, *given]
    if group is not None:
        command = ["sh", "-c", 'echo $$ > "$0"/cgroup.procs && exec "$@"', str(group), *command]
    clean = {name: value for name, value in os.environ.items() if not name.startswith("SLURM_")}
    done = subprocess.run(
        command,
        cwd=ROOT,
        env=clean | ONE_THREAD | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True,
        text=True,
        check=False,
    )
    peak_MB = json.loads(done.stdout.splitlines()[-1])["peak_MB"] if done.stdout else None
    return done.returncode, peak_MB, done.stderr


def test_a_job_takes_no_more_than_was_foretold_and_not_much_less(stage):
    """The demonstration's molar; a third less would keep jobs waiting that have room."""
    status, peak_MB, said = run(stage)
    assert status == 0, said
    assert 0.67 * stage["resources"]["mem_mb"] < peak_MB <= stage["resources"]["mem_mb"]


def refused(stage, words, **limit):
    """Whether a stage ended before it computed anything, and said so in one line."""
    record = Path(stage["output"]["record"])
    record.unlink(missing_ok=True)
    status, _, said = run(stage, **limit)
    needed = f"needs about {stage['resources']['mem_mb']:.0f} MB of memory, and "
    return (
        status == 1
        and not record.exists()
        and said.startswith(f"tooth_support support=x: {needed}")
        and words in said
        and "coarsen the mesh of the case (mesh.root_size_mm)" in said
        and said.count("\n") == 1
    )


@pytest.mark.parametrize(("limit", "letter"), [("RLIMIT_AS", "v"), ("RLIMIT_DATA", "d")])
def test_a_limit_of_the_process_is_kept_and_what_it_admits_is_finished(stage, limit, letter):
    """One less than is needed is refused, one more leads to the end."""
    words = f"free within ulimit -{letter}; raise it (ulimit -{letter})"
    assert refused(stage, words, limit=limit, more_MB=450)
    _, _, said = run(stage, limit, 450)
    lacking_MB = stage["resources"]["mem_mb"] - float(re.search(r"and (\d+) MB", said)[1])
    assert refused(stage, words, limit=limit, more_MB=450 + lacking_MB - 10)
    status, _, said = run(stage, limit, 450 + lacking_MB + 10)
    assert status == 0, said


def test_what_was_asked_of_slurm_is_kept(stage):
    small = {"SLURM_MEM_PER_CPU": "100", "SLURM_CPUS_ON_NODE": "2"}
    words = "and 200 MB are free within the limit of this container or queue; give it more"
    assert refused(stage, words, **small)
    asked = f"{stage['resources']['mem_mb'] + 1:.0f}"
    assert run(stage, SLURM_JOB_ID="1", SLURM_MEM_PER_NODE=asked)[0] == 0
    assert run(stage, SLURM_MEM_PER_NODE="0")[0] == 0  # all that the node has


@contextmanager
def control_group(most_MB):
    """A control group with a limit, of either version; skipped where none may be made."""
    own = dict(line.split(":", 2)[1:] for line in Path("/proc/self/cgroup").read_text().split())
    name = "memory.limit_in_bytes" if "memory" in own else "memory.max"
    mounted = rooms._CGROUPS / ("memory" if "memory" in own else "")
    folder = mounted / own.get("memory", own.get("", "/")).lstrip("/") / f"test_{os.getpid()}"
    try:
        folder.mkdir()
    except OSError:
        pytest.skip("no control group may be made here")
    try:
        (folder / name).write_text(str(most_MB * MB), encoding="ascii")
    except OSError:
        folder.rmdir()
        pytest.skip("no control group may have a limit here")
    try:
        yield folder
    finally:
        folder.rmdir()


def test_a_real_control_group_is_kept(stage):
    """As in a container or in a job of a queue."""
    words = "free within the limit of this container or queue; give it more"
    with control_group(300) as group:
        assert refused(stage, words, group=group)
    with control_group(1000) as group:
        assert run(stage, group=group)[0] == 0


@pytest.fixture
def groups(tmp_path, monkeypatch):
    """Control groups of either version at once, of which this process is in the outermost."""
    monkeypatch.setattr(rooms, "_CGROUPS", tmp_path)
    monkeypatch.delenv("SLURM_JOB_ID", raising=False)
    (tmp_path / "memory").mkdir()
    held = rooms.psutil.Process().memory_info().rss

    def write(most, used, cache):
        """Of both versions; `used` beyond what this process holds; all in MB."""
        for folder, names, stat in (
            (tmp_path, ("memory.max", "memory.current"), "inactive_file"),
            (tmp_path / "memory", rooms._GROUP_FILES["memory"][:2], "total_inactive_file"),
        ):
            for name, size in zip(names, (most * MB, used * MB + held), strict=True):
                (folder / name).write_text(f"{size}\n", encoding="ascii")
            (folder / "memory.stat").write_text(f"anon 5\n{stat} {cache * MB}\n")

    return write


def test_what_others_hold_in_a_group_counts_and_its_cache_does_not(groups):
    """500 MB, of which others hold 200, 60 of them a cache."""
    groups(500, 200, 60)
    room_MB = rooms.memory_room().MB
    assert room_MB == pytest.approx(360, abs=5)


def test_in_a_job_of_slurm_its_group_counts_as_a_whole(groups, monkeypatch):
    """Snakemake starts itself twice in it, within what the job asked for."""
    groups(500, 200, 60)
    monkeypatch.setenv("SLURM_JOB_ID", "1")
    room_MB = rooms.memory_room().MB
    assert room_MB == pytest.approx(500)
