import pytest

from tests.programme import assert_passes, checks_as_parameters


@pytest.mark.parametrize("check", checks_as_parameters("solution"))
def test_check(check):
    assert_passes(check)
