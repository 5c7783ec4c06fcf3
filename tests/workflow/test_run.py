"""The default run from nothing: what it writes, what reruns when, and what it says."""

import json
import os
import signal
import subprocess
import time

import numpy as np
import pandas as pd
import pytest
import yaml

from fem.cost import predicted_cost

SUMMARY_KEYS = {"case", "schema", "code", "warnings", "wire", "units", "equilibrium", "checks"}
WIRE_KEYS = {
    "alloy",
    "section",
    "span_mm",
    "length_mm",
    "activation_mm",
    "force_N",
    "force_gf",
    "couple_Nmm",
    "couple_gfmm",
    "lever_arm_mm",
    "contact_forces_N",
    "peak_stress_MPa",
    "yield_ratio",
    "permanent_set_mm",
    "linear_theory",
    "linear_as_bent",
    "play",
    "friction",
    "mesh_error",
}
UNIT_KEYS = {
    "teeth",
    "role",
    "contact",
    "force_N",
    "moment_at_attachment_Nmm",
    "resistance_centre_mm",
    "moment_at_resistance_Nmm",
    "moment_to_force_mm",
    "displacement_at_resistance_um",
    "rotation_mrad",
    "screw_axis",
    "centre_of_rotation_mm",
    "anatomical",
    "ligament",
    "movement_by_tooth",
    "mesh_error",
}
FIGURES = (
    "appliance_3d",
    "free_body",
    "wire_deflection",
    "force_activation",
    "ligament_stress",
    "mesh_section",
)


@pytest.fixture(scope="module")
def summary(finished):
    return json.loads((finished.results / "summary.json").read_text(encoding="utf-8"))


def test_summary_holds_the_contract(summary):
    assert set(summary) == SUMMARY_KEYS
    assert set(summary["wire"]) == WIRE_KEYS
    for unit in summary["units"].values():
        assert set(unit) == UNIT_KEYS
        assert set(unit["ligament"]) == {str(tooth) for tooth in unit["teeth"]}
    keys = {
        "id",
        "what",
        "computed",
        "reference",
        "relative_error",
        "tolerance",
        "passed",
        "source",
    }
    assert all(set(check) == keys for check in summary["checks"])
    assert all(check["passed"] for check in summary["checks"])


def test_free_body_balances_from_the_reported_numbers(summary):
    """Sum of forces and of moments about the origin (statics), 1e-8 of force and couple."""
    force, moment = np.zeros(3), np.zeros(3)
    for unit in summary["units"].values():
        force += unit["force_N"]
        moment += np.array(unit["moment_at_resistance_Nmm"]) + np.cross(
            unit["resistance_centre_mm"], unit["force_N"]
        )
    wire = summary["wire"]
    assert np.linalg.norm(force) < 1e-8 * np.linalg.norm(wire["force_N"])
    assert np.linalg.norm(moment) < 1e-8 * np.linalg.norm(wire["couple_Nmm"])
    assert wire["force_N"] == summary["units"]["segment"]["force_N"]
    assert wire["couple_Nmm"] == summary["units"]["molar"]["moment_at_attachment_Nmm"]


def test_couple_is_the_wanted_one(summary):
    """1200 gf·mm from the case file; 1 gf = 9.80665e-3 N by definition."""
    assert summary["wire"]["couple_gfmm"] == pytest.approx(1200, rel=1e-6)
    couple = np.linalg.norm(summary["wire"]["couple_Nmm"])
    assert couple == pytest.approx(1200 * 9.80665e-3, rel=1e-6)


def test_molar_uprights_and_extrudes_and_the_anchor_is_intruded(summary):
    """Common practice, no source."""
    molar = summary["units"]["molar"]["anatomical"]
    anchor = summary["units"]["segment"]["anatomical"]
    assert molar["extrusion_um"] > 0
    assert molar["mesial_tip_mrad"] < 0  # the crown tips distally
    assert anchor["extrusion_um"] < 0
    up = summary["units"]["molar"]["force_N"][2]
    assert up > 0
    assert summary["units"]["segment"]["force_N"][2] == pytest.approx(-up, rel=1e-8)


def test_teeth_of_one_body_move_with_it(summary):
    """A rigid body has one rotation; its points move as the unit's centre and rotation say."""
    for unit in summary["units"].values():
        turn = np.array(unit["rotation_mrad"])
        for own in unit["movement_by_tooth"].values():
            assert own["rotation_mrad"] == pytest.approx(turn, rel=1e-9, abs=1e-12)
            arm = np.subtract(own["resistance_centre_mm"], unit["resistance_centre_mm"])
            moved = np.array(unit["displacement_at_resistance_um"]) + np.cross(turn, arm)
            assert own["displacement_at_resistance_um"] == pytest.approx(moved, abs=1e-9)
    molar = summary["units"]["molar"]["movement_by_tooth"]["37"]
    assert molar["mid_crown"]["mesial_um"] < molar["anatomical"]["mesial_um"] < 0  # tips distally


def test_every_figure_has_its_table(finished):
    for name in FIGURES:
        for suffix in (".png", ".csv"):
            path = finished.results / "figures" / f"{name}{suffix}"
            assert path.stat().st_size > 1000 or len(pd.read_csv(path)) > 0, path


def test_everything_of_the_contract_is_there(finished):
    for name in (
        "sheet.html",
        "case.resolved.yaml",
        "provenance.json",
        "tables/units.csv",
        "tables/ligament.csv",
        "tables/checks.csv",
        "tables/wire.csv",
        "bilinear.json",
        "force_activation.json",
        "scenes.json",
        "tables/bilinear.csv",
        "figures/bench_template.pdf",
        "figures/bench_template.svg",
        "figures/bench_template.csv",
    ):
        assert (finished.results / name).stat().st_size > 0, name
    fields = {path.name for path in (finished.results / "fields").glob("*.vtu")}
    assert fields == {f"ligament_{tooth}.vtu" for tooth in (33, 34, 35, 37)}


def test_bilinear_movement_lies_between_its_two_branches(finished, summary):
    """Poppe et al. 2002: never stiffer than E₂ alone nor softer than E₁ alone, a factor of 5.6."""
    bilinear = json.loads((finished.results / "bilinear.json").read_text(encoding="utf-8"))
    for name, unit in bilinear["units"].items():
        linear = summary["units"][name]
        ratio = np.linalg.norm(unit["rotation_mrad"]) / np.linalg.norm(linear["rotation_mrad"])
        assert 1.0 < ratio < 5.6, name
        assert unit["relative_residual"] < 1e-8
    loose, tight = bilinear["units"]["molar"], bilinear["units"]["segment"]
    assert loose["largest_strain"] > tight["largest_strain"] > 0


def test_curve_passes_through_the_equilibrium(finished, summary):
    """The working point of the curve is the engaged wire of the summary (1e-6: both are solved)."""
    curve = json.loads((finished.results / "force_activation.json").read_text(encoding="utf-8"))
    working, wire = curve["working_point"], summary["wire"]
    assert working["force_N"] == pytest.approx(np.linalg.norm(wire["force_N"]), rel=1e-6)
    assert working["couple_Nmm"] == pytest.approx(np.linalg.norm(wire["couple_Nmm"]), rel=1e-6)
    assert working["stress_MPa"] == pytest.approx(wire["peak_stress_MPa"], rel=1e-6)
    assert curve["band"]["lower"]["activation_mm"] < working["activation_mm"]


def test_memory_of_supports_was_foretold(finished):
    """Within 30 %, so that a queue can be asked for it (the project's own target, no source)."""
    for path in finished.folder.glob("results/supports/*/support.json"):
        support = json.loads(path.read_text(encoding="utf-8"))
        freedoms = 3 * support["meshed"]["quadratic_nodes"]
        foretold = predicted_cost(freedoms, hard_tissue=False).memory_MB
        assert foretold == pytest.approx(support["solver"]["peak_memory_MB"], rel=0.3), path


def test_second_run_does_nothing(finished):
    assert finished.planned() == {}


def test_span_recomputes_no_support(copy_of_finished):
    copy_of_finished.edit(copy_of_finished.case_file, "wire:\n", "wire:\n  span_mm: 20\n")
    planned = copy_of_finished.planned()
    assert not planned.keys() & {"tooth_mesh", "tooth_support"}
    assert planned["wire_rod"] == planned["equilibrium"] == planned["sheet"] == 1


def test_activation_recomputes_no_wire_and_no_support(copy_of_finished):
    copy_of_finished.edit(copy_of_finished.case_file, "couple_gfmm: 1200", "couple_gfmm: 1000")
    planned = copy_of_finished.planned()
    assert not planned.keys() & {"tooth_mesh", "tooth_support", "wire_rod", "wire_solid"}
    assert planned["equilibrium"] == 1


@pytest.mark.parametrize(
    ("module", "rerun", "kept"),
    [
        (
            "fem/stress.py",
            {"response", "summary", "sheet"},
            {"tooth_mesh", "tooth_support", "wire_rod", "wire_solid", "equilibrium"},
        ),
        (
            "fem/wire_solid.py",
            {"wire_solid", "summary"},
            {"tooth_mesh", "tooth_support", "wire_rod", "equilibrium", "response"},
        ),
        (
            "geometry/ligament.py",
            {"tooth_mesh", "tooth_support", "equilibrium", "response"},
            {"wire_rod", "wire_solid"},
        ),
        (
            "workflow/cautions.py",
            {"summary", "sheet"},
            {"tooth_mesh", "tooth_support", "wire_rod", "wire_solid", "equilibrium", "response"},
        ),
    ],
)
def test_an_edit_of_the_library_reruns_what_depends_on_it(copy_of_finished, module, rerun, kept):
    path = copy_of_finished.folder / module
    path.write_text(path.read_text(encoding="utf-8") + "\n# edited\n", encoding="utf-8")
    planned = copy_of_finished.planned()
    assert rerun <= planned.keys()
    assert not kept & planned.keys()


def test_interrupted_run_resumes(project, finished):
    """Killed in the middle; what was finished is kept, and the numbers are the same."""
    target = f"results/cases/{project.results.name}/equilibrium.json"
    run = subprocess.Popen(
        project.command(target),
        cwd=project.folder,
        env=project.environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    deadline = time.monotonic() + 120
    while not list(project.folder.glob("results/supports/*/support.json")):
        assert run.poll() is None, "the run ended before it could be killed"
        assert time.monotonic() < deadline
        time.sleep(0.05)
    os.killpg(run.pid, signal.SIGKILL)
    run.wait()
    project.snakemake("--unlock")
    planned = project.planned(target)
    assert planned["equilibrium"] == 1
    assert sum(planned.values()) < 9  # four meshes, four supports, one equilibrium
    project.snakemake(target)
    resumed = (project.results / "equilibrium.json").read_bytes()
    assert resumed == (finished.results / "equilibrium.json").read_bytes()


def test_dry_run_explains_itself(project):
    text = project.snakemake("--dry-run").stdout
    for words in (
        "Meshing tooth 37 with its ligament",
        "Six unit motions of tooth 33",
        "Engaging the wire of lower_molar_uprighting",
        "Missing output files",
    ):
        assert words in text


def test_impossible_couple_fails_in_words(copy_of_finished):
    """The wire cannot give it: the message says the largest, and what was computed is kept."""
    copy_of_finished.edit(copy_of_finished.case_file, "couple_gfmm: 1200", "couple_gfmm: 9000")
    done = copy_of_finished.snakemake(check=False)
    assert done.returncode != 0
    assert "no activation up to the span gives a couple of 88.26 N·mm" in done.stdout
    assert "choose a stiffer wire" in done.stdout
    assert len(list(copy_of_finished.folder.glob("results/supports/*/support.json"))) == 4


def test_every_stage_kept_a_log(finished):
    for log in (finished.folder / "results").glob("*/*/logs/*.log"):
        text = log.read_text(encoding="utf-8")
        assert "started" in text, log
        assert "finished in" in text, log


WIRES = {
    "looped": {
        "two_point": {"attachment": "tube_0.018x0.025_in"},
        "one_point": {"friction": 0.15},
        "wire": {"run": [{"straight_mm": 3}, {"helix": {"turns": 1}}]},
    },
    "transforming": {
        "one_point": {"contact": "tied"},
        "wire": {
            "alloy": "nickel_titanium_superelastic",
            "along_arch": True,
            "activation": {"force_gf": 50, "trial_share": 1.2},
        },
    },
}


@pytest.fixture(scope="module")
def wires(finished, tmp_path_factory):
    """Two more cases on the finished run's teeth: a loop with play and friction, a plateau."""
    folder = tmp_path_factory.mktemp("wires") / "project"
    project = finished.copy(folder)
    for name, parts in WIRES.items():
        data = yaml.safe_load((folder / finished.case_file).read_text(encoding="utf-8"))
        for part, values in parts.items():
            data[part] |= values
        path = folder / "configs" / "cases" / f"{name}.yaml"
        path.write_text(yaml.safe_dump(data | {"case": name}), encoding="utf-8")
    assert "tooth_support" not in project.planned("--config", f"cases={','.join(WIRES)}")
    project.snakemake("--config", f"cases={','.join(WIRES)}")
    return {
        name: {
            record: json.loads(
                (folder / "results" / "cases" / name / f"{record}.json").read_text("utf-8")
            )
            for record in ("summary", "equilibrium", "force_activation")
        }
        | {"sheet": (folder / "results" / "cases" / name / "sheet.html").read_text("utf-8")}
        for name in WIRES
    }


@pytest.mark.parametrize("name", WIRES)
def test_other_wires_pass_all_their_checks(wires, name):
    checks = wires[name]["summary"]["checks"]
    assert [check["id"] for check in checks if not check["passed"]] == []
    assert any(check["id"] == "rod_as_bent_small_activation" for check in checks)


def test_play_and_friction_reach_the_sheet(wires):
    looped = wires["looped"]
    assert looped["summary"]["wire"]["play"]["closings_mm"]
    friction = looped["summary"]["wire"]["friction"]
    couples = [friction[way]["couple_Nmm"] for way in ("activating", "letting_back")]
    assert min(couples) < np.linalg.norm(looped["summary"]["wire"]["couple_Nmm"]) < max(couples)
    assert "helix" in looped["sheet"]
    assert looped["force_activation"]["closings_mm"]


def test_a_superelastic_wire_is_followed_and_springs_back(wires):
    record = wires["transforming"]
    assert record["summary"]["wire"]["force_gf"] == pytest.approx(50, rel=1e-6)
    assert record["equilibrium"]["past_limit"]["trial_share"] == 1.2
    assert record["summary"]["wire"]["permanent_set_mm"] < 1e-6
    assert not any("deforms" in text for text in record["summary"]["warnings"])
