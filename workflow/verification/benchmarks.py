"""Published benchmarks of three-dimensional elasticity with the project's meshes and solver."""

from __future__ import annotations

from workflow.verification import (
    benchmarks_cantilevers,
    benchmarks_cook,
    benchmarks_figures,
    benchmarks_lame,
    benchmarks_nafems,
)
from workflow.verification.check import Check, Picture

CHECKS: tuple[Check, ...] = (
    *benchmarks_nafems.CHECKS,
    *benchmarks_cantilevers.CHECKS,
    *benchmarks_cook.CHECKS,
    *benchmarks_lame.CHECKS,
)
PICTURES: tuple[Picture, ...] = benchmarks_figures.PICTURES
