"""The checks of the verification programme as tests: one for each, the long ones marked slow."""

import pytest

from workflow.verification.programme import checks_of


def checks_as_parameters(area):
    return [
        pytest.param(check, id=check.id, marks=[pytest.mark.slow] if check.slow else [])
        for check in checks_of(area)
    ]


def assert_passes(check):
    row = check.run()
    assert row.passed, (
        f"{check.what}: computed {row.computed:.10g}, reference {row.reference:.10g} "
        f"{row.worst}, error {row.error:.3g} above {check.tolerance:.3g} ({check.reason})"
    )
