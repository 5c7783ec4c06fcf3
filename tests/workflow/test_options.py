"""A case that uses what a case can say of teeth and tissues, from its file to its summary."""

import json

import numpy as np
import pytest
import yaml

OPTIONS = {
    "teeth": {
        37: {
            "mesial_tip_deg": 25,
            "crest_by_side_mm": {
                "mesial_mm": 3.5,
                "distal_mm": 1.5,
                "buccal_mm": 2.0,
                "lingual_mm": 2.0,
            },
        },
        35: {"dimensions": {"root_length_mm": 12.5}, "buccal_tip_deg": -10, "mesial_in_deg": 5},
    },
    "ligament": {"profile_mm": [0.20, 0.14, 0.19]},
    "tooth_body": {"elastic": True, "enamel_mm": 1.0},
    "bone": {"elastic": True},
    "mesh": {"root_size_mm": 1.0},
}


@pytest.fixture(scope="module")
def optioned(new_project, tmp_path_factory):
    project = new_project(tmp_path_factory.mktemp("options") / "project")
    data = yaml.safe_load((project.folder / project.case_file).read_text(encoding="utf-8"))
    data |= {"case": "optioned"} | OPTIONS
    data["units"]["segment"]["teeth"] = [35, 34]
    data["units"]["segment"]["joined_by"] = {
        "alloy": "stainless_steel",
        "section": "rectangular_0.019x0.025_in",
    }
    path = project.folder / "configs" / "cases" / "optioned.yaml"
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    project.snakemake("results/cases/optioned/summary.json", "--config", "cases=optioned")
    return project


def read(project, name):
    return json.loads((project.folder / "results" / name).read_text(encoding="utf-8"))


def test_all_checks_of_the_case_pass(optioned):
    summary = read(optioned, "cases/optioned/summary.json")
    assert len(summary["checks"]) > 10
    assert [check["id"] for check in summary["checks"] if not check["passed"]] == []


def test_regions_and_profile_reach_the_mesh(optioned):
    records = [
        json.loads(path.read_text(encoding="utf-8"))
        for path in (optioned.folder / "results" / "supports").glob("*/support.json")
    ]
    assert len(records) == 3
    for record in records:
        regions = [region["region"] for region in record["mesh"]]
        assert regions == ["enamel", "dentine", "ligament", "cortical", "cancellous"]
        assert np.all(np.linalg.eigvalsh(record["stiffness"]) > 0)
    (molar,) = [record for record in records if record["spec"]["tooth"] == 37]
    depth = 2.25 - molar["meshed"]["crest_shift_mm"]  # mean of the four sides
    assert molar["resistance"]["mean_crest_depth_mm"] == pytest.approx(depth, abs=0.15)
    (premolar,) = [record for record in records if record["spec"]["tooth"] == 35]
    assert premolar["resistance"]["root_length_mm"] == pytest.approx(12.5, abs=0.15)


def test_warnings_say_what_the_mesh_gave_way_to(optioned):
    warnings = read(optioned, "cases/optioned/summary.json")["warnings"]
    records = (optioned.folder / "results" / "supports").glob("*/mesh.json")
    notes = [json.loads(path.read_text(encoding="utf-8"))["note"] for path in records]
    told = [text for text in warnings if text.startswith("mesh gave way")]
    assert len(told) == len([note for note in notes if note])


def test_teeth_on_a_wire_carry_the_load_together(optioned):
    """Half-way between two brackets the hook loads both teeth, the smaller one stressed more."""
    ligaments = read(optioned, "cases/optioned/summary.json")["units"]["segment"]["ligament"]
    stress = [record["von_mises_kPa"]["p50"] for record in ligaments.values()]
    assert set(ligaments) == {"34", "35"}
    assert 0.5 < stress[0] / stress[1] < 2.0
