"""Many cantilevers at once against one at a time, and what becomes of those that fail."""

from dataclasses import replace

import numpy as np
import pytest

import fem.cantilever
from fem.appliance import Unit
from fem.batch import solve_batch
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.march import Chain, march
from fem.material import Elastic
from fem.rigid import rotation
from fem.section import rectangular_section, round_section
from geometry.wire_features import Helix, ULoop
from geometry.wire_path import Straight

STEEL, BETA_TI = Elastic(170e3, 0.3), Elastic(65e3, 0.3)
FLAT, ROUND = rectangular_section(0.635, 0.4318), round_section(0.4064)
TOOTH = np.diag([200.0, 180.0, 100.0, 3000.0, 2500.0, 800.0])
TOOTH[0, 4] = TOOTH[4, 0] = 300.0
SLANTED = np.array([1.0, 0.3, -0.2])
ALONG = np.array([1.0, 0.0, 0.0])


def cantilever(
    span, bar, support, *, turn=(0.1, -0.3, 0.08), section=FLAT, material=BETA_TI, run=()
):
    """Tube turned in space, hook aside, units held beside their contacts."""
    axes = rotation(np.array(turn))
    start = np.array([31.0, -17.0, 8.0])
    mouths = (start, start + 4.0 * axes[:, 0])
    hook = mouths[1] + span * np.array([1.0, 0.1, 0.05])
    sites = CantileverSites(mouths, axes, hook, bar, np.array([0.0, 0.0, 1.0]))
    own, other = (None, None) if support is None else (support, 3 * support)
    units = (
        Unit("tooth", start + np.array([1.0, 2.0, -9.0]), own),
        Unit("anchor", hook + np.array([0.5, 1.0, -7.0]), other),
    )
    return Cantilever(sites, WireDesign(section, material, 1.0, 10, run), units)


MIXED = [
    (cantilever(18.0, SLANTED, None), 3.0),
    (cantilever(18.0, None, None), 3.0),
    (cantilever(25.0, SLANTED, TOOTH, section=ROUND, material=STEEL), 6.0),
    (cantilever(25.0, None, TOOTH, section=ROUND, material=STEEL), 6.0),
    (cantilever(12.0, None, 0.3 * TOOTH, turn=(0.0, 0.2, 0.0)), 4.0),
    (cantilever(22.0, ALONG, 0.3 * TOOTH, material=STEEL), 9.0),
]

LOOPED = [
    (cantilever(22.0, SLANTED, TOOTH, run=(Straight(4.0), Helix(1.0, 1.2, 0.6, "-height"))), 5.0),
    (cantilever(22.0, None, TOOTH, run=(Straight(6.0), ULoop(5.0, 3.0, 1.5, "-height"))), 4.0),
]
MIXED += LOOPED


def solved_together(pairs, **options):
    return solve_batch([d for d, _ in pairs], np.array([o for _, o in pairs]), **options)


@pytest.fixture(scope="module")
def together():
    return solved_together(MIXED)


@pytest.fixture
def exact_slide(monkeypatch):
    """One at a time, a tied wire is fitted to a micrometre's thousandth; here all the way."""
    monkeypatch.setattr(fem.cantilever, "_SLIP_TOLERANCE_MM", 1e-11)


@pytest.mark.usefixtures("exact_slide")
@pytest.mark.parametrize("k", range(len(MIXED)))
def test_same_answer_as_one_at_a_time(together, k):
    design, offset = MIXED[k]
    alone = solve_for_offset(design, offset)
    middles = np.array([d.sites.tube_middle for d, _ in MIXED])
    force, middle = alone.force_on_hook_N(), middles[k]
    couple = alone.couple_on_tube_Nmm(middle)
    at_hook, on_tube = together.forces_on_hook_N[k], together.couples_on_tube_Nmm(middles)[k]
    assert np.linalg.norm(at_hook - force) < 1e-8 * np.linalg.norm(force)
    assert np.linalg.norm(on_tube - couple) < 1e-8 * np.linalg.norm(couple)
    assert together.motions[k] == pytest.approx(alone.equilibrium.motions, abs=1e-8)
    own = alone.equilibrium.state
    nodes = np.insert(
        np.arange(len(own.points)), 5, [4] * (together.points.shape[1] - len(own.points))
    )
    assert together.points[k] == pytest.approx(own.points[nodes], abs=1e-8)
    assert together.axes[k] == pytest.approx(own.axes[nodes], abs=1e-8)


@pytest.mark.usefixtures("exact_slide")
@pytest.mark.parametrize("k", range(len(MIXED)))
def test_each_contact_gives_what_it_gives_alone(together, k):
    loads = solve_for_offset(*MIXED[k]).equilibrium.loads
    first = loads[0].wrench + loads[2].wrench
    expected = np.stack([first, loads[1].wrench, loads[3].wrench])
    assert together.loads[k] == pytest.approx(expected, abs=1e-7)


def test_free_bodies_balance(together):
    """What each wire exerts on both units sums to nothing (statics)."""
    arms = together.points[:, [0, 4, -1]]
    forces, moments = together.loads[..., :3], together.loads[..., 3:]
    total = (moments + np.cross(arms, forces)).sum(axis=1)
    size = np.linalg.norm(forces, axis=-1).max(axis=1)
    assert (np.linalg.norm(forces.sum(axis=1), axis=-1) < 1e-12 * size).all()
    assert (np.linalg.norm(total, axis=-1) < 1e-9 * size).all()


def test_small_activation_is_the_timoshenko_beam():
    """3EI/(L²(L+b)) with shear, whatever the batch around it."""
    straight = cantilever(20.0, ALONG, None, turn=(0.0, 0.0, 0.0))
    hook = straight.sites.mouths[1] + 20.0 * ALONG
    straight = replace(straight, sites=replace(straight.sites, hook=hook))
    result = solved_together([*MIXED, (straight, 0.02)])
    beam = TwoPointCantilever(FLAT, BETA_TI, 20.0, 4.0)
    found = float(np.linalg.norm(result.forces_on_hook_N[-1])) / 0.02
    assert found == pytest.approx(beam.timoshenko_stiffness_N_per_mm, rel=1e-4)


@pytest.mark.parametrize("steps", [1, 7])
def test_the_way_does_not_change_the_answer(together, steps):
    other = solved_together(MIXED, steps=steps)
    assert other.loads == pytest.approx(together.loads, abs=1e-9)


def test_wire_without_activation_is_at_rest():
    straight = cantilever(20.0, None, TOOTH, turn=(0.0, 0.0, 0.0))
    hook = straight.sites.mouths[1] + 20.0 * ALONG
    result = solved_together([(replace(straight, sites=replace(straight.sites, hook=hook)), 0.0)])
    assert result.converged.all()
    assert np.abs(result.loads).max() < 1e-12


def test_processes_change_nothing(together, monkeypatch):
    monkeypatch.setattr("fem.batch._CHUNK", 4)
    apart = solved_together(MIXED, processes=2)
    assert apart.loads == pytest.approx(together.loads, abs=1e-9)


def test_failed_designs_say_why_and_leave_the_others_alone(together):
    near = cantilever(0.9, None, None)
    loose = cantilever(18.0, None, np.diag([1.0, 1.0, 1.0, 1.0, 1.0, 0.0]))
    limp = cantilever(18.0, SLANTED, np.diag([200.0, 200.0, 200.0, 0.1, 0.1, 0.1]))
    result = solved_together([(near, 0.8), *MIXED, (loose, 3.0), (limp, 30.0)])
    assert list(result.converged) == [False] + [True] * len(MIXED) + [False, False]
    assert "out of reach of one bend" in result.reasons[0]
    assert "ingular" in result.reasons[-2]
    assert "a unit turns by" in result.reasons[-1]
    assert result.reasons[1:-2] == ("",) * len(MIXED)
    assert np.isnan(result.loads[[0, -2, -1]]).all()
    assert result.loads[1:-2] == pytest.approx(together.loads, abs=1e-9)


def test_too_coarse_a_wire_finds_no_equilibrium():
    """One element would have to turn by more than the 1 rad it is good for."""
    design = cantilever(18.0, None, None)
    coarse = replace(design, wire=replace(design.wire, elements=1))
    result = solved_together([(coarse, 30.0), (coarse, 3.0)])
    assert list(result.converged) == [False, True]
    assert "no equilibrium beyond" in result.reasons[0]
    assert "more rod elements" in result.reasons[0]


def test_a_wrong_answer_is_never_kept(monkeypatch):
    """Frames that do not carry their load are reported, not returned."""

    def careless(chain: Chain, twists, start, wrench):
        return march(
            replace(chain, compliance=chain.compliance * (1 + 1e-6)), twists, start, wrench
        )

    monkeypatch.setattr("fem.cantilever_equations.march", careless)
    result = solved_together(MIXED)
    assert not result.converged.any()
    assert all("out of balance" in reason for reason in result.reasons)


def test_wires_of_other_numbers_of_elements_change_nothing(together, monkeypatch):
    monkeypatch.setattr("fem.batch._CHUNK", 2)
    coarse = replace(MIXED[0][0], wire=replace(MIXED[0][0].wire, elements=6))
    mixed = solved_together([*MIXED, (coarse, 3.0)])
    assert mixed.converged.all()
    assert mixed.loads[:-1] == pytest.approx(together.loads, abs=1e-9)
    alone = solve_for_offset(coarse, 3.0).force_on_hook_N()
    assert mixed.forces_on_hook_N[-1] == pytest.approx(alone, rel=1e-8)


def test_one_offset_a_design():
    with pytest.raises(ValueError, match="offsets_mm"):
        solve_batch([MIXED[0][0]], np.array([1.0, 2.0]))
