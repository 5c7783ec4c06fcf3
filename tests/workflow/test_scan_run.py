"""A case with a scan, from file to result: it stays where it belongs and is never mistaken."""

import shutil
import time

import pytest
import pyvista as pv
import yaml

from geometry.anatomy import tooth_dimensions
from geometry.tooth import tooth_surface
from tests.campaigns.corruption import flip
from tests.campaigns.runs import CoarseProject
from workflow.scanned import FOLDER, RECORD, SURFACE

TOOTH, NAME, SCAN = 35, "scanned", "scans/premolar.stl"
CASE_FILE = f"configs/cases/{NAME}.yaml"
TARGET = f"results/cases/{NAME}/equilibrium.json"
OWN = ("results", ".snakemake", "temporary")
SURFACES = ("*.stl", "*.ply", "*.obj", "*.vt?", "*.msh", "*.npz")


class ScannedProject(CoarseProject):
    """A small case, one of its teeth a scan: a drawn premolar, which any machine has."""

    def __init__(self, folder):
        super().__init__(folder)
        data = yaml.safe_load((folder / self.case_file).read_text(encoding="utf-8"))
        data |= {"case": NAME, "one_point": {"unit": "segment", "tooth": TOOTH}}
        data["teeth"][TOOTH] = {"scan": {"file": SCAN}}
        data["units"]["segment"]["teeth"] = [TOOTH]
        (folder / CASE_FILE).write_text(yaml.safe_dump(data), encoding="utf-8")
        (folder / "scans").mkdir()
        (folder / "temporary").mkdir()
        self.write_scan(1.0)

    def write_scan(self, scale):
        drawn = tooth_surface(tooth_dimensions(TOOTH), 0.35)
        triangles = drawn.triangles.astype(int)
        pv.PolyData.from_regular_faces(scale * drawn.points, triangles).save(self.folder / SCAN)

    @property
    def environment(self):
        return super().environment | {"TMPDIR": str(self.folder / "temporary")}

    def command(self, *arguments, **options):
        return super().command(*arguments, "--config", f"cases={NAME}", **options)

    @property
    def kept(self):
        """The only folder of a scan."""
        (folder,) = (self.folder / FOLDER).iterdir()
        return folder

    def content(self):
        """Every file that is neither a result nor Snakemake's, nor compiled."""
        paths = (path for path in self.folder.rglob("*") if path.is_file())
        paths = (path for path in paths if path.parent.name != "__pycache__")
        named = {path.relative_to(self.folder): path for path in paths}
        return {name: path.read_bytes() for name, path in named.items() if name.parts[0] not in OWN}


@pytest.fixture(scope="module")
def finished(tmp_path_factory):
    project = ScannedProject(tmp_path_factory.mktemp("scan") / "project")
    project.before = project.content()
    status, said, _ = project.run(TARGET)
    assert status == 0, said
    return project


@pytest.fixture
def copied(finished, tmp_path):
    return finished.copy(tmp_path / "project")


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def leaked(project):
    """Surfaces and meshes that lie neither among the results nor where the user put them."""
    found = [path for kind in SURFACES for path in project.folder.rglob(kind)]
    names = [path.relative_to(project.folder) for path in found]
    return [str(n) for n in names if n.parts[0] != "results" and str(n) != SCAN]


def test_its_shape_is_written_among_the_results_alone(finished):
    assert (finished.kept / SURFACE).stat().st_size > 1e5
    assert leaked(finished) == []
    assert finished.content() == finished.before


@pytest.mark.slow
def test_its_sheet_too_writes_among_the_results_alone(copied, finished):
    status, said, _ = copied.run()
    assert status == 0, said
    assert (copied.folder / f"results/cases/{NAME}/sheet.html").is_file()
    assert leaked(copied) == []
    assert copied.content() == finished.before


def test_what_is_kept_of_it_is_mended_aloud_when_it_is_damaged(copied):
    before = contents(copied.kept)
    flip(copied.kept / RECORD)
    flip(copied.kept / SURFACE)
    status, said, _ = copied.run(TARGET)
    assert status == 0, said
    (line,) = (line for line in said.splitlines() if f"{SCAN} is read again" in line)
    assert line.count("is not what its job wrote") == 2
    assert "Nothing to be done" in said
    assert contents(copied.kept) == before


def test_a_lost_scan_is_named_with_case_and_key(copied):
    path = copied.folder / SCAN
    path.rename(path.with_name("aside"))
    status, said, _ = copied.run(TARGET)
    assert status == 1
    (line,) = (line for line in said.splitlines() if "no such file" in line)
    assert line.startswith(CASE_FILE)
    assert f"teeth.{TOOTH}.scan.file = '{SCAN}': no such file" in line
    assert "Traceback" not in said
    path.with_name("aside").rename(path)
    assert "Nothing to be done" in copied.run(TARGET)[1]


def test_a_changed_scan_is_another_tooth(copied):
    old, before = copied.kept, contents(copied.kept)
    copied.write_scan(1.03)
    planned = copied.planned(TARGET)
    assert planned["tooth_mesh"] == planned["tooth_support"] == planned["equilibrium"] == 1
    assert contents(old) == before
    assert len(list((copied.folder / FOLDER).iterdir())) == 2


@pytest.mark.slow
def test_a_scan_lost_once_its_case_is_planned_changes_nothing(copied):
    wanted = (copied.folder / TARGET).read_bytes()
    shutil.rmtree(copied.folder / "results" / "supports")
    shutil.rmtree(copied.folder / "results" / "cases")
    process = copied.start(TARGET)
    while not any((copied.folder / "results" / "supports").glob("*/logs/*.log")):
        assert process.poll() is None
        time.sleep(0.02)
    (copied.folder / SCAN).unlink()
    said, _ = process.communicate()
    assert process.returncode == 0, said
    assert (copied.folder / TARGET).read_bytes() == wanted
