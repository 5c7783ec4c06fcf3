"""Uniaxial laws of wires against what follows from their own lines by hand."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fem.uniaxial import ElasticPlastic, Superelastic, UniaxialLaw, compression_ratios
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]

HARDENING = ElasticPlastic(170e3, 1300.0, 8e3)
PERFECT = ElasticPlastic(65e3, 830.0)
NITI = Superelastic(60e3, 520.0, 600.0, 300.0, 200.0, 0.075)
TWO_MODULI = Superelastic(40e3, 400.0, 450.0, 200.0, 150.0, 0.05, 30e3, 1.45, 0.7)
LAWS: dict[str, UniaxialLaw] = {
    "hardening": HARDENING,
    "perfect": PERFECT,
    "superelastic": NITI,
    "two moduli": TWO_MODULI,
}

_HAND = "by hand from the law's straight lines"


def followed(law: UniaxialLaw, path: Sequence[float] | Array) -> tuple[Array, Array]:
    """Stress (n,) along a path of strains (n,) from the virgin state, and the last state."""
    state, stress = law.initial_state(()), []
    for strain in path:
        value, _, state = law.update(np.array(strain), state)
        stress.append(float(value))
    return np.array(stress), state


def _hardening() -> Compared:
    E, H, limit = 170e3, 8e3, 1300.0
    top = limit + E * H / (E + H) * (0.02 - limit / E)
    back = top - 2 * limit - E * H / (E + H) * (0.02 - 2 * limit / E + 0.01)
    stress, _ = followed(HARDENING, [limit / E, 0.02, 0.02 - 2 * limit / E, -0.01])
    labels = ["yield", "top", "reverse yield", "below"]
    return Compared(stress, [limit, top, top - 2 * limit, back], labels=labels)


def _full_loop() -> Compared:
    start, finish = 520 / 60e3, 0.085
    path = [start, 0.5 * (start + finish), finish, 0.09]
    back = [0.075 + 300 / 60e3, 0.5 * (0.080 + 200 / 60e3), 200 / 60e3, 0.001]
    stress, _ = followed(NITI, [*path, *back])
    exact = [520, 560, 600, 900, 300, 250, 200, 60]
    labels = ["start", "half way", "finish", "martensite"]
    labels += [f"{name}, back" for name in ("start", "half way", "finish", "austenite")]
    return Compared(stress, exact, labels=labels)


def _tangents() -> Compared:
    """Slope of the plateau, (σ_f − σ_s)/(ε_f − ε_s), and of both phases."""
    moduli = []
    for strain in (0.004, 0.04, 0.09):
        _, tangent, _ = NITI.update(np.array(strain), NITI.initial_state(()))
        moduli.append(float(tangent))
    return Compared(
        moduli, [60e3, 1048.0349345, 60e3], labels=["austenite", "plateau", "martensite"]
    )


def _partial_loop() -> Compared:
    _, state = followed(NITI, [0.04])
    share = (0.04 - 520 / 60e3) / (0.085 - 520 / 60e3)
    knee = 0.075 * share + 300 / 60e3
    c = 60e3 * 0.075 * share / 100
    stress, _ = followed(NITI, [0.04, knee, 0.02, 200 / 60e3])
    exact = [share, 300, (60e3 * 0.02 + c * 200) / (1 + c), 200]
    labels = ["ξ₀", "start", "between", "finish"]
    return Compared([state[1], *stress[1:]], exact, labels=labels)


def _martensite() -> Compared:
    stress, _ = followed(TWO_MODULI, [0.05 + 600 / 30e3, 0.05 + 300 / 30e3])
    return Compared(stress, [600, 300])


def _compression() -> Compared:
    law = Superelastic(
        60e3, 520, 600, 300, 200, 0.06, compression_stress_ratio=1.5, compression_strain_ratio=0.5
    )
    stress, _ = followed(law, [-(780 / 60e3), -(900 / 60e3 + 0.03), -(1200 / 60e3 + 0.03)])
    return Compared(stress, [-780, -900, -1200], labels=["start", "finish", "martensite"])


def _asymmetry() -> Compared:
    """(√(2/3) + α)/(√(2/3) − α); the strains go inversely, so that the work is one."""
    found, exact = [], []
    for alpha in (0.0, 0.1, 0.15, 0.3):
        stress, strain = compression_ratios(alpha)
        found += [stress, stress * strain]
        exact += [(np.sqrt(2 / 3) + alpha) / (np.sqrt(2 / 3) - alpha), 1.0]
    found.append(compression_ratios(0.15)[0])
    exact.append(1.450115)
    return Compared(found, exact)


def _lost_in_a_loop() -> Compared:
    """ε_L times the gap of the plateaus' means, trapezoids of 4000 strains a leg."""
    path = np.concatenate([np.linspace(0, 0.1, 4001), np.linspace(0.1, 0, 4001)[1:]])
    stress, _ = followed(NITI, path)
    return Compared(np.trapezoid(stress, path), 0.075 * (560 - 250))


def _work(path: Array) -> tuple[float, float]:
    """Work not stored and σ_y times the plastic path of the hardening law, along strains (n,)."""
    E, H, limit = 170e3, 8e3, 1300.0
    state, stress, slip = HARDENING.initial_state(()), [0.0], 0.0
    for strain in path:
        value, _, new = HARDENING.update(np.array(strain), state)
        slip += abs(float(new[0] - state[0]))
        stress.append(float(value))
        state = new
    stored = stress[-1] ** 2 / (2 * E) + H * float(state[0]) ** 2 / 2
    spent = np.trapezoid(stress, np.append(0.0, path))
    return float(spent - stored), limit * slip


def _plastic_work() -> Compared:
    turns = (0.0, 0.05, -0.03, 0.06, 0.01)
    legs = [np.linspace(a, b, 2001)[1:] for a, b in pairwise(turns)]
    lost, expected = _work(np.concatenate(legs))
    return Compared(lost, expected)


def _slopes() -> Compared:
    """Central differences at random strains from random states, steps with a kink left out."""
    rng, h = np.random.default_rng(1), 1e-8
    found, exact, labels = [], [], []
    for name, law in LAWS.items():
        _, _, state = law.update(rng.normal(0, 0.03, 4000), law.initial_state((4000,)))
        strain = rng.normal(0, 0.03, 4000)
        high, low = law.update(strain + h, state), law.update(strain - h, state)
        smooth = np.isclose(high[1], low[1], rtol=1e-3)
        if smooth.mean() < 0.99:
            raise ValueError(f"law {name}: tangents differ across {1 - smooth.mean():.1%} of steps")
        tangent = law.update(strain, state)[1][smooth]
        if len(np.unique(np.round(tangent))) < 2:
            raise ValueError(f"law {name}: one tangent only, no strain reaches past the limit")
        slope = (high[0] - low[0])[smooth] / (2 * h)
        found.append(tangent)
        exact.append(slope)
        labels += [name] * int(smooth.sum())
    return Compared(np.concatenate(found), np.concatenate(exact), scale=30e3, labels=labels)


def _one_step() -> Compared:
    """One step along a leg ends where five hundred do; over the stresses' own size."""
    turns = (0.0, 0.03, 0.012, 0.045, -0.02, -0.09, -0.03, 0.01)
    legs = [np.linspace(a, b, 501)[1:] for a, b in pairwise(turns)]
    found, exact, labels = [], [], []
    for name, law in LAWS.items():
        fine, _ = followed(law, np.concatenate(legs))
        coarse, _ = followed(law, turns[1:])
        found.append(coarse)
        exact.append(fine[499::500])
        labels += [f"{name}, at {turn}" for turn in turns[1:]]
    return Compared(found, exact, scale=1000.0, labels=labels)


CHECKS = (
    Check(
        id="hardening_law",
        what="stress of a linearly hardening wire loaded, and yielding backward, MPa",
        code="fem.uniaxial.ElasticPlastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="slope EH/(E + H), reverse yield 2σ_y below the turning point",
        tolerance=1e-12,
        reason="rounding",
        compute=_hardening,
    ),
    Check(
        id="superelastic_loop",
        what="stress at the corners of the full superelastic loop and half way, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.BENCHMARK,
        source="auricchio",
        place=f"60 GPa, 520/600/300/200 MPa, ε_L = 0.075, {_HAND}",
        tolerance=1e-12,
        reason="rounding",
        compute=_full_loop,
    ),
    Check(
        id="superelastic_moduli",
        what="tangent moduli of austenite, plateau and martensite, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.BENCHMARK,
        source="auricchio",
        place="E, (σ_f − σ_s)/(ε_f − ε_s) and E of the published constants",
        tolerance=1e-10,
        reason="ten digits of the plateau's slope",
        compute=_tangents,
    ),
    Check(
        id="superelastic_partial_loop",
        what="share transformed and stresses of a loop turned back half way, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.BENCHMARK,
        source="auricchio",
        place="σ = (E ε + c σ'_f)/(1 + c), c = E ε_L ξ₀/(σ'_s − σ'_f)",
        tolerance=1e-12,
        reason="rounding",
        compute=_partial_loop,
    ),
    Check(
        id="martensite_modulus",
        what="stress of a fully transformed wire with its own modulus, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="ε = σ/E_M + ε_L",
        tolerance=1e-12,
        reason="rounding",
        compute=_martensite,
    ),
    Check(
        id="compression_plateau",
        what="stress in compression with its own plateau, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="stresses 1.5 times, strains half those of tension, by hand",
        tolerance=1e-12,
        reason="rounding",
        compute=_compression,
    ),
    Check(
        id="compression_ratios",
        what="start stress in compression over tension, and product with the strain ratio",
        code="fem.uniaxial.compression_ratios",
        kind=Kind.BENCHMARK,
        source="auricchio",
        place="(√(2/3) + α)/(√(2/3) − α); 1.450115 at α = 0.15",
        tolerance=5e-7,
        reason="seven digits",
        compute=_asymmetry,
    ),
    Check(
        id="superelastic_loss",
        what="work lost in a full superelastic loop, MPa",
        code="fem.uniaxial.Superelastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="ε_L times the gap of the plateaus' mean stresses, 560 and 250 MPa",
        tolerance=1e-4,
        reason="trapezoids of 4000 strains a leg across five kinks",
        compute=_lost_in_a_loop,
    ),
    Check(
        id="plastic_loss",
        what="work put in and not stored on a path with three reversals, MPa",
        code="fem.uniaxial.ElasticPlastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="∫ σ dε − σ²/2E − H εₚ²/2 = σ_y ∫ |dεₚ|",
        tolerance=1e-4,
        reason="trapezoids of 2000 strains a leg across four kinks",
        compute=_plastic_work,
    ),
    Check(
        id="law_tangents",
        what="tangents of four laws against differences of the stress, over 30 GPa",
        code="fem.uniaxial.ElasticPlastic.update, fem.uniaxial.Superelastic.update",
        kind=Kind.CODE,
        source="calculus",
        place="16000 random strains from random states, kinks left out",
        tolerance=1e-4,
        reason="central differences of step 1e-8",
        compute=_slopes,
    ),
    Check(
        id="law_step_size",
        what="stress after one step a leg against five hundred, over 1000 MPa",
        code="fem.uniaxial.ElasticPlastic.update, fem.uniaxial.Superelastic.update",
        kind=Kind.CODE,
        source="law_by_hand",
        place="seven legs through tension and compression, four laws",
        tolerance=1e-9,
        reason="laws are integrated exactly, whatever the step",
        compute=_one_step,
    ),
)
