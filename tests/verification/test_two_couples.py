"""What one couple does not feel, where two do."""

import numpy as np
import pytest

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.material import Elastic
from fem.section import rectangular_section

ALONG, ASIDE, UP = np.eye(3)
TOOTH = np.diag([500.0, 300, 250, 4500, 7000, 5000])  # about a molar in a ligament, N and mm
FLAT = rectangular_section(0.635, 0.4318)  # 0.017 × 0.025 in
TITANIUM = Elastic(65e3, 0.3)


def hooked(bar, modulus_factor, tip_deg=20.0, offset_mm=6.0):
    """Cantilever from a tipped tube, hooked over a bar or tied, its units' ligaments scaled."""
    c, s = np.cos(np.radians(tip_deg)), np.sin(np.radians(tip_deg))
    axes = np.column_stack([[c, 0, -s], ASIDE, [s, 0, c]])
    mouths = (np.zeros(3), 4 * axes[:, 0])
    sites = CantileverSites(mouths, axes, mouths[1] + 20 * ALONG, bar, UP)
    units = tuple(
        Unit(name, point, modulus_factor * TOOTH)
        for name, point in (("molar", np.array([2.0, 4, -8])), ("anchor", sites.hook - 9 * UP))
    )
    design = Cantilever(sites, WireDesign(FLAT, TITANIUM, 1.0, 40), units)
    return sites, solve_for_offset(design, offset_mm)


@pytest.mark.parametrize("bar", [ALONG, None], ids=["bar", "tied"])
def test_one_couple_hardly_feels_the_ligament(bar):
    """A ligament ten times as stiff changes force and couple by less than one percent.

    By beam theory the wire, 12 mm/N, is in series with supports that give 0.09 mm/N at the hook.
    """
    (sites, soft), (_, stiff) = (hooked(bar, factor) for factor in (1.0, 10.0))
    for load in (
        lambda s: np.linalg.norm(s.force_on_hook_N()),
        lambda s: np.linalg.norm(s.couple_on_tube_Nmm(sites.tube_middle)),
    ):
        assert load(soft) == pytest.approx(load(stiff), rel=0.01)
