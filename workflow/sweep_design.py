"""Designs of experiments: a study to points of the unit cube, and those to values of its factors.

A sampler knows nothing of factors but how many there are and how many levels each has; what a
coordinate u in [0, 1) means is the factor's own: one of n levels is number ⌊n u⌋, a distribution
has the value that it stays below with probability u.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

from workflow.sweep_config import ParameterStudy
from workflow.sweep_factor import Choice, Factor

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_BELOW_ONE = np.nextafter(1.0, 0.0)
_DIGITS = 12  # of sampled values: more would name one run twice where libraries round differently


def unit_cube(study: ParameterStudy) -> Array:
    """Points of a study's design, (runs, factors), each coordinate in [0, 1)."""
    return SAMPLERS[study.design.name](study)


def design_points(study: ParameterStudy) -> list[tuple[Choice, ...]]:
    """Values of all factors, one tuple a run, in the order of the design."""
    cube = unit_cube(study)
    columns = [values_at(factor, cube[:, k]) for k, factor in enumerate(study.factors)]
    return list(zip(*columns, strict=True))


def values_at(factor: Factor, u: Array) -> list[Choice]:
    """Values of a factor at coordinates (n,) of the unit cube."""
    choices = factor.choices
    if choices:
        numbers = np.floor(len(choices) * np.minimum(u, _BELOW_ONE)).astype(int)
        return [choices[k] for k in numbers]
    return [factor.choice(float(f"{value:.{_DIGITS}g}")) for value in _sampled(factor, u)]


def _sampled(factor: Factor, u: Array) -> Array:
    if factor.uniform is not None:
        low, high = factor.uniform
        return low + u * (high - low)
    normal = factor.normal
    assert normal is not None
    below, above = (ndtr((end - normal.mean) / normal.sd) for end in (normal.low, normal.high))
    values = normal.mean + normal.sd * ndtri(below + u * (above - below))
    return np.clip(values, normal.low, normal.high)


def _at_levels(numbers: Ints, counts: Sequence[int]) -> Array:
    """Middle of the part of [0, 1) that belongs to each level."""
    return np.asarray((numbers + 0.5) / np.asarray(counts))


def _counts(study: ParameterStudy) -> list[int]:
    return [len(factor.choices) for factor in study.factors]


def _grid(study: ParameterStudy) -> Array:
    counts = _counts(study)
    return _at_levels(np.indices(counts).reshape(len(counts), -1).T, counts)


def _one_at_a_time(study: ParameterStudy) -> Array:
    counts = _counts(study)
    rows = [[0] * len(counts)]
    for number, count in enumerate(counts):
        for level in range(1, count):
            rows.append([level if k == number else 0 for k in range(len(counts))])
    return _at_levels(np.array(rows), counts)


def _latin_hypercube(study: ParameterStudy) -> Array:
    """Scrambled, one point in each of as many equal parts of every coordinate."""
    asked = study.design.latin_hypercube
    assert asked is not None
    generator = np.random.default_rng(asked.seed)
    sampler = qmc.LatinHypercube(len(study.factors), seed=generator)
    return np.asarray(sampler.random(asked.runs))


def _random(study: ParameterStudy) -> Array:
    """Row by row, so that more runs leave the first ones as they are."""
    asked = study.design.random
    assert asked is not None
    return np.random.default_rng(asked.seed).random((asked.runs, len(study.factors)))


def _sobol(study: ParameterStudy) -> Array:
    """Blocks of factors + 2 rows: a point a, then a with one factor of b at a time, then b.

    Saltelli 2002, Comput Phys Commun 145:280-297, from a scrambled Sobol sequence.
    """
    from SALib.sample import sobol  # takes a second to load, which reading a workflow can spare

    asked = study.design.sobol
    assert asked is not None
    points = sobol.sample(
        sobol_problem(study), asked.base_runs, calc_second_order=False, seed=asked.seed
    )
    return np.asarray(points)


def sobol_problem(study: ParameterStudy) -> dict[str, Any]:
    """The factors of a study as SALib describes them: all on the unit interval."""
    names = [factor.name for factor in study.factors]
    return {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}


SAMPLERS: dict[str, Callable[[ParameterStudy], Array]] = {
    "grid": _grid,
    "one_at_a_time": _one_at_a_time,
    "latin_hypercube": _latin_hypercube,
    "random": _random,
    "sobol": _sobol,
}
