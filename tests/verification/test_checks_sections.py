import pytest

from tests.programme import assert_passes, checks_as_parameters


@pytest.mark.parametrize("check", checks_as_parameters("sections"))
def test_check(check):
    if check.source == "sectionproperties":
        pytest.importorskip("sectionproperties", reason="not on every platform: pyproject.toml")
    assert_passes(check)
