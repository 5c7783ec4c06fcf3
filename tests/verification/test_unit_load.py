"""Linear theory along a bent wire: what loops do."""

import numpy as np

from fem.appliance import Unit
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.material import Elastic
from fem.section import rectangular_section
from fem.unit_load import linear_force
from geometry.wire_features import Helix, LLoop, ULoop
from geometry.wire_path import Straight

FLAT, BETA_TI = rectangular_section(0.635, 0.4318), Elastic(65e3, 0.3)
BASE, SPAN = 4.0, 22.0
MOUTHS = (np.zeros(3), np.array([BASE, 0, 0]))
RUNS = {
    "helix": (Straight(4.0), Helix(1.0, 1.25, 0.6, "-height")),
    "U loop": (Straight(6.0), ULoop(5.0, 3.0, 1.0, "-height")),
    "L loop": (Straight(5.0), LLoop(6.0, 6.0, 2.0, 1.5, 0.5, "-height")),
}

ALONG = np.array([1.0, 0, 0])


def cantilever(run=()):
    hook = np.array([BASE + SPAN, 2.0, 0.5])
    sites = CantileverSites(MOUTHS, np.eye(3), hook, ALONG, np.array([0.0, 0, 1]))
    units = (Unit("tube", np.zeros(3), None), Unit("hook", hook, None))
    return Cantilever(sites, WireDesign(FLAT, BETA_TI, 1.0, 40, run), units)


def test_a_loop_lowers_the_rate():
    """A loop adds wire, so force per millimetre falls (common practice, no source)."""
    plain = np.linalg.norm(linear_force(cantilever(), 1.0))
    for run in RUNS.values():
        looped = np.linalg.norm(linear_force(cantilever(run), 1.0))
        assert looped < 0.95 * plain
