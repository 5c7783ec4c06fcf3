"""What the trade teaches about superelastic wire, held by the rows of the catalogue."""

import numpy as np
import pytest

from fem.moment_curvature import bend_to, residual_curvature_per_mm, virgin
from workflow.verification.rods_trade import STEEL, catalogue, section_spec
from workflow.wire_specs import fibre_section

SUPERELASTIC = "nickel_titanium_superelastic"


def let_back(alloy, section, curvature_per_mm, shares):
    """Moments at shares of a curvature on the way back from it, and the set left at the end."""
    wire = fibre_section(catalogue().alloys[alloy].model_dump(mode="json"), section_spec(section))
    history = bend_to(wire, [curvature_per_mm, 0], virgin(wire))
    for share in shares:
        history = bend_to(wire, [share * curvature_per_mm, 0], history)
    moments = history.moment_Nmm[20 * np.arange(2, 2 + len(shares)), 0]
    return moments, residual_curvature_per_mm(wire, history)[0]


@pytest.mark.parametrize("section", ["round_0.016_in", "rectangular_0.016x0.022_in"])
def test_superelastic_wire_gives_a_steady_moment_and_comes_back(section):
    """Common practice, no source: steel takes a set where superelastic wire gives its plateau.

    Surface strain 4 %. From half to a quarter of the curvature the moment of a linear wire falls by
    a half; on the plateau it must keep more than three quarters.
    """
    curvature = 0.04 / (section_spec(section)["height_mm"] / 2)
    (half, quarter), left = let_back(SUPERELASTIC, section, curvature, (0.5, 0.25))
    assert 0.75 * half < quarter < half
    assert left == pytest.approx(0, abs=1e-6 * curvature)
    assert let_back(STEEL, section, curvature, (0.9,))[1] > 0.5 * curvature
