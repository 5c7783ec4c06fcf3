"""Ten thousand different cantilevers at once, and how fine their wires must be cut.

Run with ``.venv/bin/python -m tests.benchmarks.batch [designs] [processes]``. Spans, sections,
alloys, bends, activations, supports and both contacts are drawn at random from a fixed seed. The
error of a coarser wire is the largest change of the hook's force and the tube's couple against
80 elements on the free run, relative to their size. Never part of the tests: times say something
only beside others taken on the same quiet machine.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from fem.appliance import Unit
from fem.batch import BatchResult, solve_batch
from fem.cantilever import solve_for_offset
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.material import Elastic
from fem.rigid import rotation
from fem.section import rectangular_section, round_section

SECTIONS = (
    round_section(0.4064),
    rectangular_section(0.4064, 0.4064),
    rectangular_section(0.5588, 0.4064),
    rectangular_section(0.635, 0.4318),
)
ALLOYS = (Elastic(170e3, 0.3), Elastic(65e3, 0.3), Elastic(34e3, 0.33))
SUPPORT = np.diag([200.0, 200.0, 100.0, 3000.0, 3000.0, 800.0])
FINEST = 80
COMPARED = 200


def designs(n: int, elements: int) -> tuple[list[Cantilever], NDArray[np.float64]]:
    """Cantilevers in space and their offsets, mm."""
    drawn = qmc.Sobol(8, rng=1).random_base2(int(np.ceil(np.log2(n))))[:n]
    many, offsets = [], []
    for k, (span, tip, turn, torque, slant, share, anchor, base) in enumerate(drawn):
        span_mm = 10 + 20 * span
        axes = rotation(np.radians([30 * (torque - 0.5), 50 * (tip - 0.5), 20 * (turn - 0.5)]))
        mouths = (np.zeros(3), (3 + 2 * base) * axes[:, 0])
        hook = mouths[1] + span_mm * np.array([1.0, 0.2 * (slant - 0.5), 0.2 * (turn - 0.5)])
        bar = np.array([1.0, slant - 0.5, 0.5 * (torque - 0.5)]) if k % 2 else None
        sites = CantileverSites(mouths, axes, hook, bar, np.array([0.0, 0.0, 1.0]))
        K = SUPPORT * (0.5 + 2 * anchor)
        units = (Unit("target", np.array([0.0, 1.0, -8.0]), K), Unit("anchor", hook, 3 * K))
        wire = WireDesign(SECTIONS[k % 4], ALLOYS[k % 3], 1.0, elements)
        many.append(Cantilever(sites, wire, units))
        offsets.append((0.05 + 0.25 * share) * span_mm)
    return many, np.array(offsets)


def couples(many: list[Cantilever], result: BatchResult) -> NDArray[np.float64]:
    """Couples on the tubes, (n, 3), N·mm."""
    return result.couples_on_tube_Nmm(np.array([design.sites.tube_middle for design in many]))


def apart(first: NDArray[np.float64], second: NDArray[np.float64]) -> float:
    """Largest difference of vectors relative to their size."""
    return float(np.nanmax(np.linalg.norm(first - second, axis=1) / np.linalg.norm(second, axis=1)))


def processor_s() -> float:
    """Processor time of this process and those it ended, s."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def main() -> None:
    """Print times, reasons of failure and errors of the cut."""
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else os.cpu_count() or 1
    finest = solve_batch(*designs(COMPARED, FINEST))
    fine = couples(designs(COMPARED, FINEST)[0], finest)
    print(f"{n} designs in {processes} processes; 4 elements in the tube, 4 in the bend")
    print("free run   wall s   CPU s   solved   residual N   error of force   of couple")
    for elements in (8, 12, 16, 20):
        many, offsets = designs(n, elements)
        started, before = time.perf_counter(), processor_s()
        result = solve_batch(many, offsets, processes=processes)
        seconds, processor = time.perf_counter() - started, processor_s() - before
        force = apart(result.forces_on_hook_N[:COMPARED], finest.forces_on_hook_N)
        couple = apart(couples(many, result)[:COMPARED], fine)
        worst = np.nanmax(result.residual_N)
        print(
            f"{elements:8d} {seconds:8.2f} {processor:7.2f} {result.converged.sum():8d}"
            f" {worst:12.1e} {force:16.1e} {couple:11.1e}",
            flush=True,
        )
        for reason, count in Counter(filter(None, result.reasons)).most_common(3):
            print(f"         {count} designs: {reason}")
    started = time.perf_counter()
    for design, offset in zip(many[:10], offsets[:10], strict=True):
        solve_for_offset(design, float(offset))
    print(f"one by one, {elements} elements: {(time.perf_counter() - started) / 10:.3f} s a design")


if __name__ == "__main__":
    main()
