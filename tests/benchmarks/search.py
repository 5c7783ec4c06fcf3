"""Ten thousand designs searched, from support files to the chosen case.

Run with ``.venv/bin/python tests/benchmarks/search.py [processes]`` after ``./workflow/run``, which
computes the supports of the demonstration case. Two searches: the example, in which many wires of
its field cannot give the couple, and one in which every design is engaged (straight wires, given
activations). Then how far the numbers of the search, with its few elements, lie from those of 80.
Never part of the tests: times say something only beside others taken on the same quiet machine.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import numpy as np

from workflow.case import load_case, resolved
from workflow.plan import make_plan
from workflow.search import Found, find_designs
from workflow.search_config import CASES, Search, load_search
from workflow.search_field import HookPlace, hook_places
from workflow.search_report import said, search_report
from workflow.yaml_files import read_mapping

EXAMPLE = Path("configs/searches/lower_molar_uprighting.yaml")
SUPPORTS = Path("results/supports")
ENGAGED_BY_ALL = {
    "alloys": ["stainless_steel", "cobalt_chromium_heat_treated", "beta_titanium"],
    "sections": [
        "round_0.018_in",
        "rectangular_0.016x0.022_in",
        "rectangular_0.017x0.025_in",
        "rectangular_0.018x0.025_in",
        "rectangular_0.019x0.025_in",
        "rectangular_0.021x0.025_in",
    ],
    "spans_mm": {"low": 16, "high": 30, "count": 28},
    "runs": {"straight": []},
    "activation": {"offset_mm": {"low": 1.0, "high": 7.0, "count": 20}},
}


def processor_s() -> float:
    """Processor time of this process and those it ended, s."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


def searched(search: Search, processes: int) -> tuple[tuple[HookPlace, ...], Found]:
    """Hooks and designs, from the files of the supports on."""
    case = resolved(load_case(CASES / f"{search.case}.yaml"))
    ids = make_plan(case).supports
    files = {tooth: str(SUPPORTS / name / "support.json") for tooth, name in ids.items()}
    bases = {tooth: str(SUPPORTS / name / "stress_basis.npz") for tooth, name in ids.items()}
    content = read_mapping(CASES / f"{search.case}.yaml")
    hooks = hook_places(search, content, files, search.search)
    return hooks, find_designs(search, hooks, bases, processes)


def main() -> None:
    """Print times and errors."""
    processes = int(sys.argv[1]) if len(sys.argv) > 1 else os.cpu_count() or 1
    example, _ = load_search(EXAMPLE)
    every = Search.model_validate(example.model_dump(exclude={"field"}) | {"field": ENGAGED_BY_ALL})
    for name, search in (("example", example), ("every design engaged", every)):
        started, before = time.perf_counter(), processor_s()
        hooks, found = searched(search, processes)
        seconds, processor = time.perf_counter() - started, processor_s() - before
        table = found.table
        print(
            f"{name}: {len(table)} designs, {table['yield_ratio'].notna().sum()} engaged, in "
            f"{seconds:.1f} s, {processor:.1f} s of processor time, {processes} processes"
        )
        started = time.perf_counter()
        report = search_report(search, hooks, found)
        print(f"  {said(found)}; the chosen one alone: {time.perf_counter() - started:.2f} s")
        if found.chosen is not None:
            row, promise = table.loc[found.chosen], report["promised"]
            for key in ("couple_gfmm", "force_gf", "yield_ratio"):
                print(f"  {key}: searched {row[key]:.6g}, as a case {promise[key]:.6g}")
    _print_errors(every, processes)


def _print_errors(search: Search, processes: int) -> None:
    """Largest change against 80 elements on the free run, loops included."""
    runs = {"straight": [], "helix": [{"helix": {"turns": 1}}]}
    few = {
        "spans_mm": {"low": 16, "high": 30, "count": 3},
        "runs": runs,
        "activation": {"offset_mm": {"low": 2.0, "high": 6.0, "count": 2}},
    }
    field = search.field.model_dump() | few
    tables = {}
    for elements in (8, 12, 20, 80):
        changed = search.model_dump() | {"field": field, "elements": elements}
        tables[elements] = searched(Search.model_validate(changed), processes)[1].table
    for elements in (8, 12, 20):
        words = []
        for column in ("force_gf", "couple_gfmm", "yield_ratio", "ligament_kPa"):
            ratio = tables[elements][column] / tables[80][column]
            words.append(f"{column} {np.nanmax(np.abs(ratio - 1)):.1e}")
        print(f"{elements} elements against 80: " + ", ".join(words))


if __name__ == "__main__":
    main()
