"""Shipped figures made again on a copy of the project, before and after a constant is changed."""

import re
import shutil
import subprocess
import tarfile
from pathlib import Path

import pandas as pd
import pytest

from workflow.reproduction_config import CONFIG, load_reproduction

ROOT = Path(__file__).parents[2]
# Of the demonstration: free body, force against activation, wire, stress in the ligament.
# Of the study of wires: three-point bending (curves, table) and stiffness of sections.
# Of the study of supports: a tooth pushed by hand, without a wire.
NUMBER = {figure.name: figure.number for figure in load_reproduction(ROOT / CONFIG).figures}
DEMONSTRATION = tuple(
    NUMBER[f"uprighting_{name}"]
    for name in ("free_body", "force_activation", "ligament_stress", "wire_deflection")
)
BENDING = tuple(NUMBER[name] for name in ("bending_test_curves", "bending_test", "stiffness"))
NO_WIRE = NUMBER["mobility"]
FIGURES = sorted((*DEMONSTRATION, *BENDING, NO_WIRE))
ONLY = f"figures={','.join(map(str, FIGURES))}"


def named(text):
    """Numbers of the figures that a message names as different."""
    said = text.split("What differs", 1)[-1] if "What differs" in text else ""
    return {int(number) for number in re.findall(r"^figure (\d+) \(", said, re.M)}


def compared(project):
    return pd.read_csv(project.folder / "results" / "reproduction" / "agreement.csv")


@pytest.fixture(scope="module")
def reproduced(finished, tmp_path_factory):
    """A copy of the finished run whose figures were held against the tracked references."""
    folder = tmp_path_factory.mktemp("reproduction") / "project"
    project = finished.copy(folder)
    shutil.copytree(ROOT / "results" / "reference", folder / "results" / "reference")
    project.said = project.snakemake("reproduce", "--config", ONLY).stdout
    return project


def test_the_figures_have_the_numbers_of_the_references(reproduced):
    table = compared(reproduced)
    assert sorted(set(table["figure"])) == FIGURES
    assert table["agrees"].all()
    assert (table.loc[table["column"] == "(rows)", "values"] > 0).all()
    verdict = (reproduced.folder / "results" / "reproduction" / "verdict.txt").read_text("utf-8")
    assert verdict.startswith(f"{len(FIGURES)} of {len(FIGURES)} figures agree")


def test_one_figure_can_be_asked_for_alone(reproduced):
    (reproduced.folder / "results" / "studies" / "wires" / "figures" / "bending_test.svg").unlink()
    planned = reproduced.planned(f"figure_{BENDING[0]}")
    assert planned == {"study_bending_test": 1, f"figure_{BENDING[0]}": 1}


def test_a_constant_changed_by_two_percent_touches_the_figures_that_depend_on_it(
    reproduced, tmp_path
):
    """The wire's modulus: every figure with that wire, no other, no row of another alloy."""
    project = reproduced.copy(tmp_path / "project")
    project.edit(
        "configs/catalogue/alloys.yaml", "youngs_modulus_MPa: 65000", "youngs_modulus_MPa: 66300"
    )
    done = project.snakemake("reproduce", "--config", ONLY, check=False)
    assert done.returncode != 0
    touched = {*DEMONSTRATION, *BENDING}
    assert named(done.stdout) == touched
    assert f"1 of {len(FIGURES)} figures agree" in done.stdout

    table = compared(project)
    assert set(table.loc[~table["agrees"], "figure"]) == touched
    result = project.folder / "results" / "reproduction"
    differences = pd.read_csv(result / "differences.csv")
    wires = differences[differences["figure"].isin(BENDING)]
    assert wires["row"].str.startswith("beta_titanium").all()
    slope = wires[wires["column"] == "slope_48EI_per_L3_N_per_mm"]
    # 48 E I / L³ is proportional to E; tables have six digits
    assert slope["relative_difference"].to_list() == pytest.approx([0.02], abs=1e-5)
    page = (result / "agreement.html").read_text(encoding="utf-8")
    for number in FIGURES:
        assert (f"Figure {number} differs" in page) == (number in touched)
    assert not (result / "verdict.txt").exists()


def test_the_archive_is_the_same_bytes_twice(reproduced, tmp_path):
    """Of a checkout of its own, with the page left out that takes a study."""
    folder = tmp_path / "project"
    project = reproduced.copy(folder)
    project.edit(
        "configs/reproduction.yaml", "  - results/studies/simplified/simplified.html\n", ""
    )
    (folder / ".gitignore").write_text("results/\n.snakemake/\n__pycache__/\n", encoding="utf-8")
    who = ["-c", "user.name=somebody", "-c", "user.email=somebody@example.org"]
    for arguments in (["init", "-q"], ["add", "-A"], ["commit", "-q", "-m", "All"]):
        subprocess.run(["git", *who, *arguments], cwd=folder, check=True)
    said = project.snakemake("archive", "--config", ONLY).stdout
    assert re.search(r"^packed: \d+ files of kind result, \d+ bytes$", said, re.M)
    path = folder / "results" / "archive" / "onecouple.tar.gz"
    first = path.read_bytes()
    with tarfile.open(path) as tar:
        names = {name.partition("/")[2] for name in tar.getnames()}
    assert {
        "SHA256SUMS",
        "environment.txt",
        "workflow/Snakefile",
        "results/reproduction/agreement.html",
        "results/studies/wires/figures/bending_test.svg",
        "results/studies/wires/tables/bending_test_curves.csv",
        "results/cases/lower_molar_uprighting/sheet.html",
    } <= names
    path.unlink()
    project.snakemake("archive", "--config", ONLY)
    assert path.read_bytes() == first


def test_an_unknown_figure_is_refused_in_words(project):
    done = project.snakemake("reproduce", "--config", "figures=bending_tset", check=False)
    assert done.returncode != 0
    assert "did you mean bending_test?" in done.stdout
