"""Sections of fibres: many at once, moments beyond the limit, sizes that are refused."""

import numpy as np
import pytest

from fem.fibre import (
    FibreSection,
    corner_radius_for_area,
    rectangular_fibres,
    round_fibres,
    round_strips,
)
from fem.moment_curvature import (
    BendingError,
    load_to,
    virgin,
)
from workflow.verification.inelastic_sections import HEIGHT, RECTANGLE_MODULUS, STEEL, WIDTH
from workflow.verification.inelastic_superelastic import NITI


def test_many_sections_at_once_answer_as_one_by_one():
    wire = FibreSection(round_fibres(0.4, 4, 7), NITI)
    rng = np.random.default_rng(3)
    axial, bent = rng.normal(0, 0.02, (2, 5)), rng.normal(0, 0.2, (2, 5, 2))
    state = wire.response(axial[::-1], bent[::-1], wire.initial_state((2, 5))).state
    together = wire.response(axial, bent, state)
    one = wire.response(axial[1, 3], bent[1, 3], state[1, 3])
    assert together.resultants[1, 3] == pytest.approx(one.resultants, rel=1e-12)
    assert together.tangent[1, 3] == pytest.approx(one.tangent, rel=1e-9, abs=1e-9)
    assert together.state[1, 3] == pytest.approx(one.state, rel=1e-12)


def test_more_than_the_plastic_moment_is_an_error():
    wire = FibreSection(rectangular_fibres(WIDTH, HEIGHT), STEEL)
    with pytest.raises(BendingError, match="exceed"):
        load_to(wire, [1.51 * STEEL.yield_strength_MPa * RECTANGLE_MODULUS, 0], virgin(wire))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: round_fibres(0), "diameter_mm"),
        (lambda: round_fibres(1, rings=1), "rings"),
        (lambda: round_strips(-1), "diameter_mm"),
        (lambda: rectangular_fibres(1, 0), "sides"),
        (lambda: rectangular_fibres(1, 2, corner_radius_mm=0.6), "half the smaller side"),
        (lambda: rectangular_fibres(1, 2, across_height=6, corner_radius_mm=0.1), "2 × 9"),
        (lambda: corner_radius_for_area(1, 1, 0.3), "lost_fraction"),
    ],
)
def test_wrong_sizes_are_refused(make, words):
    with pytest.raises(ValueError, match=words):
        make()
