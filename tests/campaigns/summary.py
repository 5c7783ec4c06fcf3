"""What the campaigns found, kept with the project.

``python -m tests.campaigns.summary NAME FILE`` takes the figures of a finished campaign from its
FILE into ``results/reference/campaigns.json`` and writes ``campaigns.md`` beside it anew. Run it in
the checkout that the campaign ran in, or name that with ``--commit``.
"""

from __future__ import annotations

import argparse
import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from workflow.provenance import code_version
from workflow.records import read_json, write_json

KEPT = Path(__file__).parents[2] / "results" / "reference" / "campaigns.json"
Figures = dict[str, Any]

_HEAD = """# Campaigns

What the long campaigns of `tests/campaigns` found, taken from their own files by
`.venv/bin/python -m tests.campaigns.summary`. Quick parts of each are among the tests.

| campaign | what was done | what came of it | commit | on |
| --- | --- | --- | --- | --- |
"""


def _fuzz(found: Figures) -> tuple[str, str]:
    outcomes: dict[str, int] = {}
    for kind in found["by_kind"].values():
        for outcome, count in kind.items():
            outcomes[outcome] = outcomes.get(outcome, 0) + count
    ended = ", ".join(f"{count} {outcome}" for outcome, count in sorted(outcomes.items()))
    solved = ", ".join(f"{count} {outcome}" for outcome, count in found["solutions"].items())
    slowest = found["validation_s"]["slowest"]
    return (
        f"{found['files']} changed files of {len(found['by_kind'])} kinds, seed {found['seed']}",
        f"{ended}; slowest {slowest:.2f} s of processor time; of accepted cases solved: {solved}; "
        f"**{found['fault_count']} faults**",
    )


def _kills(found: Figures) -> tuple[str, str]:
    return (
        f"{found['kills']} kills in {found['runs']} runs of the default case and of a small study, "
        f"seed {found['seed']}, each run then finished by the plain command",
        f"**{found['failed']} runs** with a table that is not byte for byte that of an undisturbed "
        "run, or an error",
    )


def _corruption(found: Figures) -> tuple[str, str]:
    names = "; ".join(record["fault"] for record in found["records"])
    return (
        f"{found['faults']} kinds of damage: {names}",
        f"**{found['failed']}** not named, or not recovered from",
    )


def _random_cases(found: Figures) -> tuple[str, str]:
    reasons = "; ".join(f"{reason} ({count})" for reason, count in found["reasons"].items())
    return (
        f"{found['cases']} random cases on {found['teeth']} teeth, from file to summary, as "
        "`sampled_cases` draws them: within what a straight wire can bear, corners no tighter than "
        "the rod is good for",
        f"{found['solved']} solved, {found['failed_with_a_named_reason']} failed for a named "
        f"reason, **{found['findings']}** otherwise ({100 * found['failure_rate']:.1f} % in all); "
        f"largest imbalance of those solved {found['largest_imbalance']:.0e}; median "
        f"{found['median_processor_s']:.1f} s, longest {found['longest_processor_s']:.0f} s of "
        f"processor time. Not solved: {reasons}",
    )


def _soak(found: Figures) -> tuple[str, str]:
    memory = found["rss_MB"]
    return (
        f"{found['rounds']} rounds of small studies and cases in {found['hours']:.2f} h",
        f"memory {memory['first']:.0f} to {memory['last']:.0f} MB "
        f"({memory['per_hour']:+.1f} ± {memory['standard_error']:.1f} MB/h); "
        f"{found['left']['last']} temporary files left; **{found['verdict']}**",
    )


CAMPAIGNS: dict[str, Callable[[Figures], tuple[str, str]]] = {
    "fuzz": _fuzz,
    "kills": _kills,
    "corruption": _corruption,
    "random_cases": _random_cases,
    "soak": _soak,
}


def page(kept: dict[str, Figures]) -> str:
    """The table of all campaigns, in Markdown."""
    rows = []
    for name, words in CAMPAIGNS.items():
        if name in kept:
            made = kept[name]["made"]
            cells = (name, *words(kept[name]["found"]), made["commit"], made["on"])
            rows.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |\n")
    return _HEAD + "".join(rows)


def take(name: str, found: Figures, commit: str, place: Path = KEPT) -> None:
    """Keep the figures of one campaign, and write the page anew."""
    kept: dict[str, Figures] = read_json(place) if place.exists() else {}
    records = found.get("records", [])
    found = found | ({"records": [_short(record) for record in records]} if records else {})
    made = {"commit": commit, "on": f"{datetime.now(UTC):%Y-%m-%d}", "cores": os.cpu_count()}
    CAMPAIGNS[name](found)
    write_json(place, kept | {name: {"made": made, "found": found}})
    place.with_suffix(".md").write_text(page(read_json(place)), encoding="utf-8")


def _short(record: Figures) -> Figures:
    return {key: value for key, value in record.items() if not isinstance(value, str | list)} | {
        key: record[key] for key in ("fault", "kind") if key in record
    }


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.campaigns.summary", description=__doc__)
    parser.add_argument("name", choices=CAMPAIGNS)
    parser.add_argument("file", type=Path, help="what the campaign wrote, as JSON")
    parser.add_argument("--commit", default=code_version()["commit"])
    given = parser.parse_args()
    take(given.name, json.loads(given.file.read_text(encoding="utf-8")), given.commit)


if __name__ == "__main__":
    main()
