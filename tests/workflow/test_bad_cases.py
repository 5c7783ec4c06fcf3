"""A wrong case file ends the run before anything is meshed, with one clear message each."""

import pytest

CASE = "configs/cases/lower_molar_uprighting.yaml"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("alloy: beta_titanium", "aloy: beta_titanium", "did you mean alloy?"),
        ("teeth:\n", "bone: {crest_depth_mm: 1.5 mm}\nteeth:\n", "bone.crest_depth_mm = '1.5 mm'"),
        ("wire:\n", "wire:\n  span_mm: -18\n", "wire.span_mm = -18"),
        ("wire:\n", "wire:\n  span_mm: 70\n", "the segment's wire lies"),
        ("between: [34, 35]", "between: [35, 36]", "36"),
        ("units:", "units: [", "YAML"),
    ],
    ids=[
        "misspelt key",
        "unit in value",
        "negative span",
        "span too long",
        "missing tooth",
        "not YAML",
    ],
)
def test_wrong_case_is_refused_in_words(project, old, new, message):
    project.edit(CASE, old, new)
    done = project.snakemake(check=False)
    assert done.returncode != 0
    assert message in done.stdout
    assert CASE in done.stdout
    assert "Traceback" not in done.stdout
    assert not (project.folder / "results").exists()


def test_unknown_case_is_named(project):
    done = project.snakemake("--config", "cases=upper_molar", check=False)
    assert done.returncode != 0
    assert "configs/cases/upper_molar.yaml" in done.stdout
    assert "Traceback" not in done.stdout
