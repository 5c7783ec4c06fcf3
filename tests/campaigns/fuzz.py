"""Thousands of wrong files: each is refused in good form and soon, or carried on without a fault.

Run with ``.venv/bin/python -m tests.campaigns.fuzz --count 20000 --seed 1 --out SUMMARY.json``
from the project's folder. Files of a seed are the same every time; file number n of a seed can be
made again alone with ``--only n --keep FOLDER``.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.campaigns.judge import SLOWEST_S, Verdict, judged, shipped
from tests.campaigns.mutate import mutated
from tests.campaigns.solve import solved

FAULTS = ("traceback", "form", "late", "slow", "input")
_TELL_EVERY = 500
_SHOWN = 40  # faults written out in the summary


@dataclass
class Summary:
    """Counts by kind and outcome, times, and the first faults in full."""

    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    done: Counter[tuple[str, str]] = field(default_factory=Counter)
    solutions: Counter[str] = field(default_factory=Counter)
    reasons: Counter[str] = field(default_factory=Counter)
    seconds: list[float] = field(default_factory=list)
    slowest: tuple[float, str] = (0.0, "")
    faults: list[dict[str, Any]] = field(default_factory=list)

    def add(self, number: int, kind: str, mutations: Sequence[str], verdict: Verdict) -> None:
        self.counts[kind, verdict.outcome] += 1
        for name in mutations:
            self.done[name, verdict.outcome] += 1
        self.seconds.append(verdict.seconds)
        self.slowest = max(self.slowest, (verdict.seconds, f"{kind}, number {number}"))
        if verdict.outcome in FAULTS:
            self.fault(number, kind, mutations, verdict.outcome, verdict.note)

    def fault(self, number: int, kind: str, done: Sequence[str], outcome: str, note: str) -> None:
        self.faults.append(
            {"number": number, "kind": kind, "done": list(done), "outcome": outcome, "note": note}
        )

    def as_dict(self, settings: dict[str, Any]) -> dict[str, Any]:
        times = np.array(self.seconds or [0.0])
        return {
            **settings,
            "files": int(sum(self.counts.values())),
            "by_kind": _nested(self.counts),
            "by_mutation": _nested(self.done),
            "solutions": dict(self.solutions),
            "mechanical_reasons": dict(self.reasons.most_common(30)),
            "validation_s": {
                "median": float(np.median(times)),
                "p99": float(np.quantile(times, 0.99)),
                "slowest": self.slowest[0],
                "slowest_file": self.slowest[1],
                "allowed": SLOWEST_S,
            },
            "fault_count": len(self.faults),
            "faults": self.faults[:_SHOWN],
        }


def _nested(counts: Counter[tuple[str, str]]) -> dict[str, dict[str, int]]:
    table: dict[str, dict[str, int]] = {}
    for (row, column), count in sorted(counts.items()):
        table.setdefault(row, {})[column] = count
    return table


def draws(
    count: int, seed: int, only: int | None = None
) -> Iterator[tuple[int, str, Path, bytes, list[str]]]:
    """Number, kind, good file, mutated content, and what was done; each has its own generator."""
    files = shipped()
    kinds = sorted({kind for kind, _ in files})
    texts = {path: path.read_text(encoding="utf-8") for _, path in files}
    for number in range(count) if only is None else (only,):
        rng = np.random.default_rng([seed, number])
        # Half of them cases, for these have the most keys; the rest any kind alike.
        kind = "case" if rng.random() < 0.5 else kinds[int(rng.integers(len(kinds)))]
        own = [path for name, path in files if name == kind]
        path = own[int(rng.integers(len(own)))]
        raw, done = mutated(texts[path], rng)
        yield number, kind, path, raw, done


def campaign(
    count: int,
    seed: int,
    solve_share: float = 0.0,
    only: int | None = None,
    keep: str = "",
    tell: Callable[[Summary], None] = lambda summary: None,
) -> Summary:
    """Judge `count` files and solve a share of the accepted cases; `tell` hears now and then."""
    summary = Summary()
    with tempfile.TemporaryDirectory() as scratch:
        for number, kind, path, raw, done in draws(count, seed, only):
            place = Path(keep or scratch) / path.name
            place.write_bytes(raw)
            with quiet():
                verdict = judged(kind, place)
            summary.add(number, kind, done, verdict)
            chosen = np.random.default_rng([seed, number, 1]).random() < solve_share
            if kind == "case" and verdict.outcome == "accepted" and chosen:
                outcome, why = solved(verdict.spec, Path(scratch) / "supports")
                summary.solutions[outcome] += 1
                if outcome == "mechanical":
                    summary.reasons[why[:80]] += 1
                elif outcome == "input":
                    summary.fault(number, kind, done, outcome, why)
            if number % _TELL_EVERY == 0:
                tell(summary)
    return summary


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Without what libraries print on the way."""
    with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
        yield


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.fuzz", description=__doc__)
    parser.add_argument("--count", type=int, default=20_000, help="how many files")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--solve", type=float, default=0.1, help="share of accepted cases solved")
    parser.add_argument("--out", type=Path, help="where to write the summary, as JSON")
    parser.add_argument("--only", type=int, help="only the file of this number")
    parser.add_argument("--keep", default="", help="folder to leave the last file of a name in")
    asked = parser.parse_args(arguments)
    start = time.perf_counter()

    def as_text(summary: Summary) -> str:
        taken = round(time.perf_counter() - start, 1)
        own = {"count": asked.count, "seed": asked.seed, "solve": asked.solve, "total_s": taken}
        return json.dumps(summary.as_dict(own), indent=1, ensure_ascii=False) + "\n"

    def write(summary: Summary) -> None:
        if asked.out:
            asked.out.write_text(as_text(summary), encoding="utf-8")

    summary = campaign(asked.count, asked.seed, asked.solve, asked.only, asked.keep, write)
    write(summary)
    print(f"{len(summary.faults)} faults" if asked.out else as_text(summary))
    return 1 if summary.faults else 0


if __name__ == "__main__":
    sys.exit(main())
