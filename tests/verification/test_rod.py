"""What the rod says of a wire that nothing holds."""

from dataclasses import replace

import numpy as np
import pytest

from fem.appliance import EquilibriumError
from fem.appliance_system import solve_equilibrium
from fem.attachment import DeadForce
from workflow.verification.rods_elastica import unit_wire


def test_says_how_far_it_came_when_nothing_holds_the_wire():
    wire = unit_wire(4, np.array([100.0, 40, 40, 3, 5, 9]))
    loose = replace(wire, contacts=(), forces=(DeadForce(4, np.array([0.0, 0, 1])),))
    with pytest.raises(EquilibriumError, match=r"no equilibrium beyond 0\.0 %"):
        solve_equilibrium(loose)
