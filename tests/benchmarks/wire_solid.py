"""An engaged wire as a 3D solid: from the shape of its rod at once, and in steps from rest.

Run with ``.venv/bin/python -m tests.benchmarks.wire_solid``; a minute. One line a wire: unknowns,
then processor seconds to mesh it and to find its equilibrium either way, with the Newton
iterations, and how far the two forces lie apart. Never part of the tests: times say something only
beside others taken on the same quiet machine.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from fem.appliance import Unit
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.cantilever_solid import moved_as_rod, run_solid
from fem.material import Elastic
from fem.section import rectangular_section, round_section
from fem.sweep_rotation import bend_across
from geometry.wire_features import Helix
from geometry.wire_path import Feature, Straight

MOUTHS = (np.zeros(3), np.array([4.0, 0.0, 0.0]))
HOOK = np.array([24.0, 1.5, 0.5])
RIBBON, THIN = rectangular_section(0.635, 0.4318), round_section(0.4064)
LOOPED: tuple[Feature, ...] = (Straight(3.0), Helix(1.0, 1.25, 0.7, "-height"))
ALONG, ACROSS = np.eye(3)[0], np.eye(3)[1:]  # free and held directions at the hook
WIRES = {
    "straight, a tenth of the span": (RIBBON, (), 0.1),
    "straight, a third": (RIBBON, (), 1 / 3),
    "helix, a tenth": (RIBBON, LOOPED, 0.1),
    "helix, a third": (RIBBON, LOOPED, 1 / 3),
    "round and thin, a third": (THIN, (), 1 / 3),
}


def timed(work: Callable[..., Any], *given: Any, **how: Any) -> tuple[Any, float]:
    """What it gives, and the processor seconds that it took."""
    started = time.process_time()
    return work(*given, **how), time.process_time() - started


def measured(design: Cantilever, offset_mm: float) -> str:
    """One wire's numbers."""
    solved = solve_for_offset(design, offset_mm)
    solid, meshing = timed(run_solid, design, solved)
    start = moved_as_rod(solid, solved)
    held = ACROSS @ solved.equilibrium.state.axes[solved.path.mouths[1]]
    bend = partial(bend_across, solid, solid.last[:3] @ start, held)
    once, quick = timed(bend, start=start)
    steps, slow = timed(bend)
    apart = np.linalg.norm(once.force_N - steps.force_N) / np.linalg.norm(steps.force_N)
    return (
        f"{solid.unknowns:8} {meshing:6.2f} s {quick:5.2f} s ({once.iterations:2})"
        f"  {slow:6.2f} s ({steps.iterations:2})  {apart:.0e}"
    )


def main() -> None:
    """Print a line a wire."""
    print(f"{'wire':<30} unknowns   mesh   at once        in steps       forces apart")
    sites = CantileverSites(MOUTHS, np.eye(3), HOOK, ALONG, np.array([0.0, 0.0, 1.0]))
    units = (Unit("tube", np.zeros(3), None), Unit("hook", HOOK, None))
    for name, (section, run, share) in WIRES.items():
        wire = WireDesign(section, Elastic(65e3, 0.3), 1.0, 40, run)
        print(f"{name:<30} {measured(Cantilever(sites, wire, units), share * sites.span_mm)}")


if __name__ == "__main__":
    main()
