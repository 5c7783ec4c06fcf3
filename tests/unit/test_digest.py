"""Names of runs and digests of the code behind each stage."""

import shutil
from pathlib import Path

import pytest

from workflow.digest import PACKAGES, ROOT, code_digest, spec_id, stage_files


@pytest.fixture
def copy(tmp_path):
    for package in PACKAGES:
        shutil.copytree(ROOT / package, tmp_path / package)
    return tmp_path


def names(script, root=ROOT):
    return {str(path.relative_to(root)) for path in stage_files(script, root)}


def test_spec_id_ignores_the_order_of_keys():
    assert spec_id({"a": 1, "b": [1, 2]}) == spec_id({"b": [1, 2], "a": 1})
    assert spec_id({"a": 1}) != spec_id({"a": 2})


def test_a_nan_has_no_name():
    with pytest.raises(ValueError, match="JSON compliant"):
        spec_id({"a": float("nan")})


def test_meshing_depends_on_shapes_only():
    files = names("tooth_mesh")
    assert "geometry/tooth_mesh.py" in files
    assert "geometry/session.py" in files  # two imports away
    assert not [name for name in files if name.startswith("fem/")]


def test_support_does_not_depend_on_the_wire():
    files = names("tooth_support")
    assert "fem/assembly.py" in files
    assert not files & {"fem/rod.py", "fem/appliance.py", "geometry/arch.py"}


@pytest.mark.parametrize(
    ("edited", "rerun", "kept"),
    [
        ("fem/stress.py", {"response"}, {"tooth_mesh", "tooth_support", "wire_rod"}),
        ("fem/rod.py", {"wire_rod", "equilibrium"}, {"tooth_mesh", "tooth_support", "wire_solid"}),
        ("geometry/ligament.py", {"tooth_mesh"}, {"tooth_support", "wire_rod", "wire_solid"}),
        ("workflow/cautions.py", {"summary"}, {"equilibrium", "response", "wire_rod"}),
    ],
)
def test_an_edit_changes_the_digest_of_its_stages(copy, edited, rerun, kept):
    before = {stage: code_digest(stage, copy) for stage in rerun | kept}
    path = copy / edited
    path.write_text(path.read_text(encoding="utf-8") + "\n# edited\n", encoding="utf-8")
    after = {stage: code_digest(stage, copy) for stage in rerun | kept}
    assert {stage for stage in before if before[stage] != after[stage]} == rerun


def test_every_rule_with_a_script_states_its_digest():
    rules = Path(ROOT / "workflow" / "rules").glob("*.smk")
    text = "\n".join(path.read_text(encoding="utf-8") for path in rules)
    scripts = {path.stem for path in (ROOT / "workflow" / "scripts").glob("*.py")}
    for script in scripts:
        assert f'code_digest("{script}")' in text, script
        assert f"rule {script}:" in text, script
