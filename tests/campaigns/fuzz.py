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

from tests.campaigns.drawn import pick
from tests.campaigns.judge import KINDS, MODELS, SLOWEST_S, Verdict, judged, shipped, text_of
from tests.campaigns.mutate import mutated
from tests.campaigns.solve import meshed, solved
from tests.corpus.scans import made_scan

CASES = ("case", "scanned case")
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

    def tried(self, number: int, kind: str, done: Sequence[str], outcome: str, why: str) -> None:
        """What became of a case that was solved or meshed."""
        self.solutions[outcome] += 1
        if outcome in ("mechanical", "no mesh"):
            self.reasons[why[:80]] += 1
        elif outcome == "input":
            self.fault(number, kind, done, outcome, why)

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
    count: int, seed: int, only: int | None = None, kinds: Sequence[str] = ()
) -> Iterator[tuple[int, str, Path, bytes, list[str]]]:
    """Number, kind, good file, mutated content, and what was done; each has its own generator.

    Without `kinds` half of them are cases, for these have the most keys; the rest any kind alike.
    """
    files = shipped()
    known = sorted({kind for kind, _ in files})
    texts = {place: text_of(*place) for place in files}
    for number in range(count) if only is None else (only,):
        rng = np.random.default_rng([seed, number])
        kind = pick(rng, kinds or known) if kinds or rng.random() < 0.5 else "case"
        path = pick(rng, [path for name, path in files if name == kind])
        raw, done = mutated(texts[kind, path], rng, MODELS.get(kind))
        yield number, kind, path, raw, done


def campaign(
    count: int,
    seed: int,
    solve_share: float = 0.0,
    mesh_share: float = 0.0,
    only: int | None = None,
    kinds: Sequence[str] = (),
    keep: str = "",
    tell: Callable[[Summary], None] = lambda summary: None,
) -> Summary:
    """Judge `count` files, solve and mesh shares of the accepted cases; `tell` hears now and then.

    Runs in a folder of its own, so that scans are not kept among the project's results.
    """
    summary = Summary()
    folder = Path(keep).absolute() if keep else None
    with project() as scratch:
        for number, kind, path, raw, done in draws(count, seed, only, kinds):
            place = (folder or scratch) / path.name
            place.write_bytes(raw)
            with quiet():
                verdict = judged(kind, place)
            summary.add(number, kind, done, verdict)
            if kind in CASES and verdict.outcome == "accepted":
                share = np.random.default_rng([seed, number, 1]).random(2)
                trials: list[tuple[str, str]] = []
                if share[0] < solve_share and kind == "case":
                    trials.append(solved(verdict.spec, scratch / "supports"))
                if share[1] < mesh_share:
                    with quiet():
                        trials.append(meshed(verdict.spec, number))
                for outcome, why in trials:
                    summary.tried(number, kind, done, outcome, why)
            if number % _TELL_EVERY == 0:
                tell(summary)
    return summary


@contextlib.contextmanager
def project() -> Iterator[Path]:
    """An empty project in a folder of its own, with the files of this one and a scan."""
    before, configs = Path.cwd(), Path("configs").absolute()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "configs").symlink_to(configs)
        made_scan("whole", folder)
        os.chdir(folder)
        try:
            yield folder
        finally:
            os.chdir(before)


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
    parser.add_argument("--mesh", type=float, default=0.01, help="share with a tooth meshed")
    parser.add_argument("--kinds", nargs="+", default=(), choices=sorted(KINDS), metavar="KIND")
    parser.add_argument("--out", type=Path, help="where to write the summary, as JSON")
    parser.add_argument("--only", type=int, help="only the file of this number")
    parser.add_argument("--keep", default="", help="folder to leave the last file of a name in")
    asked = parser.parse_args(arguments)
    start, out = time.perf_counter(), asked.out and asked.out.absolute()

    def as_text(summary: Summary) -> str:
        taken = round(time.perf_counter() - start, 1)
        own = {name: getattr(asked, name) for name in ("count", "seed", "solve", "mesh", "kinds")}
        own |= {"total_s": taken}
        return json.dumps(summary.as_dict(own), indent=1, ensure_ascii=False) + "\n"

    def write(summary: Summary) -> None:
        if out:
            out.write_text(as_text(summary), encoding="utf-8")

    summary = campaign(
        asked.count, asked.seed, asked.solve, asked.mesh, asked.only, asked.kinds, asked.keep, write
    )
    write(summary)
    print(f"{len(summary.faults)} faults" if asked.out else as_text(summary))
    return 1 if summary.faults else 0


if __name__ == "__main__":
    sys.exit(main())
