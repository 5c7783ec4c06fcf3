"""One cantilever at a time: how long an engaged wire with its two units takes to find.

Run with ``.venv/bin/python -m tests.benchmarks.appliance [designs]``. The designs are those of
`batch.py`, 40 elements on the free run. A wire tied at the hook is solved several times, until its
length is at rest in the tube; one on a bar once. Never part of the tests: times say something only
beside others taken on the same quiet machine.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from fem.cantilever import solve_for_offset
from tests.benchmarks.batch import designs

ELEMENTS = 40
ASKED_MS = 50.0


def main() -> None:
    """Print the median and the worst time of either kind of contact."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    many, offsets = designs(n, ELEMENTS)
    solve_for_offset(many[0], float(offsets[0]))
    times: dict[str, list[float]] = {"bar": [], "tied": []}
    for design, offset in zip(many, offsets, strict=True):
        started = time.perf_counter()
        solve_for_offset(design, float(offset))
        kind = "tied" if design.sites.bar is None else "bar"
        times[kind].append(1e3 * (time.perf_counter() - started))
    print(f"{n} designs, {ELEMENTS} elements on the free run; asked: median {ASKED_MS:.0f} ms")
    for kind, taken in times.items():
        print(f"{kind:>5}: median {np.median(taken):6.1f} ms, worst {max(taken):6.1f} ms")


if __name__ == "__main__":
    main()
