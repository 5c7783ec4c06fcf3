"""Teeth joined by a wire: the limit of a soft one, handles, and what is refused."""

import numpy as np
import pytest

from fem.material import Elastic
from fem.rigid import shift_motion
from fem.section import round_section
from fem.segment import JoiningWire, join_by_wire
from fem.unit import ToothSupport, coordinates, join_teeth, tooth_motion
from geometry.arch import tooth_frame

POINT = np.array([0.0, 0.0, -7.0])
STEEL = Elastic(170000.0, 0.3)
Z = np.array([0.0, 0.0, 1.0])


def random_stiffness(seed, scale=1.0):
    root = np.random.default_rng(seed).standard_normal((6, 6))
    sizes = np.array([1, 1, 1, 5, 5, 5.0])
    return scale * 30 * (root @ root.T + 6 * np.eye(6)) * np.outer(sizes, sizes)


@pytest.fixture
def teeth():
    return tuple(ToothSupport(n, tooth_frame(n), POINT, random_stiffness(n)) for n in (35, 34, 33))


def brackets_of(teeth):
    return np.array([t.frame.to_patient([0, 6.0, 4.0]) for t in teeth])


def joined(teeth, diameter_mm, material=STEEL, hook=None):
    brackets = brackets_of(teeth)
    wire = JoiningWire(brackets, Z, round_section(diameter_mm), material)
    return join_by_wire(teeth, wire, brackets[:2].mean(axis=0) if hook is None else hook)


def test_a_soft_wire_leaves_the_held_tooth_alone(teeth):
    hook = brackets_of(teeth)[1]
    unit = joined(teeth, 1e-5, hook=hook)
    alone = join_teeth((teeth[1],))
    assert unit.centre.point == pytest.approx(alone.centre.point, abs=1e-6)
    assert unit.centre.stiffness == pytest.approx(alone.centre.stiffness, rel=1e-6, abs=1e-6)


def test_handle_moves_as_it_is_asked(teeth):
    unit = joined(teeth, 0.4)
    q = np.array([0.01, 0.02, -0.01, 0.001, -0.002, 0.003])
    assert unit.handle @ coordinates(unit, q) == pytest.approx(q, abs=1e-12)
    hook = brackets_of(teeth)[1]
    at_bracket = joined(teeth, 0.4, hook=hook)
    tooth = teeth[1]
    local = tooth_motion(at_bracket, q, tooth)
    moved = shift_motion(q, at_bracket.centre.point, tooth.place)
    assert tooth.frame.axes @ local[:3] == pytest.approx(moved[:3], abs=1e-12)


@pytest.mark.parametrize(("off", "message"), [([0, 0, 1.0], "no span"), ([40.0, 0, 0], "no span")])
def test_hook_off_the_wire_is_refused(teeth, off, message):
    with pytest.raises(ValueError, match=message):
        joined(teeth, 0.4, hook=brackets_of(teeth)[0] + np.array(off))


def test_one_bracket_a_tooth(teeth):
    wire = JoiningWire(brackets_of(teeth)[:2], Z, round_section(0.4), STEEL)
    with pytest.raises(ValueError, match="3 teeth but 2 brackets"):
        join_by_wire(teeth, wire, wire.brackets[0])
