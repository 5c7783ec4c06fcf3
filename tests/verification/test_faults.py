"""Every deliberate fault is noticed by the check that is named for it, and that passes without."""

import pytest

from workflow.verification.faults import FAULTS, try_fault
from workflow.verification.programme import all_checks


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.what)
def test_the_check_notices_the_fault(fault):
    assert all_checks()[fault.check].run().passed
    assert try_fault(fault).failed
