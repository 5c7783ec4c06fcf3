"""The report of the verification programme: tables for programs, one page for people."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from workflow.figures import three_digits
from workflow.pages import data_uri, page
from workflow.verification.check import Kind
from workflow.verification.sources import DERIVED

AREA_TITLES = {
    "continuum": "Elements and solver",
    "benchmarks": "Published benchmarks of solids",
    "peers": "Code to code",
    "layers": "Thin bonded layers",
    "rods": "Wires with finite rotations",
    "sections": "Sections, edges and play",
    "inelastic": "Plastic and superelastic wires",
    "resistance": "Centres and axes of resistance",
    "appliances": "Appliances and their statics",
    "solution": "Error of the mesh",
    "validation": "Beside what was measured",
}

_ABOUT = {
    Kind.CODE: "does the code solve its equations?",
    Kind.BENCHMARK: "does it give what others published?",
    Kind.PEER: "does an independent code agree on the same mesh?",
    Kind.SOLUTION: "how far is the default mesh from the limit?",
    Kind.VALIDATION: "does the model give what was measured?",
}


def checks_table(records: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """One row a check, in the order of the areas."""
    return pd.DataFrame(records).drop(columns=["source_key"])


def failures(
    records: Iterable[Mapping[str, Any]], faults: Iterable[Mapping[str, Any]]
) -> list[str]:
    """One line for each check that failed and each fault that no check noticed."""
    lines = [
        f"{r['id']}: {r['what']}: computed {_number(r['computed'])}, reference "
        f"{_number(r['reference'])}, error {_number(r['error'])} of at most "
        f"{r['tolerance']:.2g}. {r['note']}".strip()
        for r in records
        if not r["passed"]
    ]
    lines += [
        f"fault not noticed by {f['check']}: {f['what']} ({f['file']})"
        for f in faults
        if not f["caught"]
    ]
    return lines


def report_html(
    records: Sequence[Mapping[str, Any]],
    faults: Sequence[Mapping[str, Any]],
    pictures: Mapping[str, Sequence[Mapping[str, str]]],
    folder: str | Path,
    made: Mapping[str, Any],
) -> str:
    """The page.

    Parameters
    ----------
    records
        Of all checks, in the order of the areas.
    faults
        Of all faults tried.
    pictures
        Name and caption of the figures of each area.
    folder
        Where the figures lie.
    made
        Version, commit and platform: ``provenance.json`` of the run.
    """
    return page(
        "verification.html.j2",
        summary=summary_rows(records),
        verdict=verdict(records, faults),
        areas=[_area(name, records, pictures, Path(folder)) for name in _areas(records)],
        sources=source_rows(records),
        faults=[
            (f["what"], f["file"], f["right"], f["wrong"], f["check"], _said(f)) for f in faults
        ],
        failed=failures(records, faults),
        made=made,
    )


def verdict(records: Sequence[Mapping[str, Any]], faults: Sequence[Mapping[str, Any]]) -> str:
    """The outcome in a sentence or two."""
    passed = sum(r["passed"] for r in records)
    sources = {r["source_key"] for r in records}
    outside = {r["source_key"] for r in records if r["certainty"] != DERIVED}
    caught = sum(f["caught"] for f in faults)
    return (
        f"{passed} of {len(records)} checks pass, of {sum(r['numbers'] for r in records)} numbers "
        f"in all, against {len(sources)} sources, {len(outside)} of them published and the others "
        f"exact solutions, laws and independent programs. {caught} of {len(faults)} deliberate "
        "faults in the code are noticed by the check named."
    )


def summary_rows(records: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, int, int]]:
    """Kind of check, what it asks, how many there are and how many pass."""
    all_of = Counter(r["kind"] for r in records)
    passed = Counter(r["kind"] for r in records if r["passed"])
    return [
        (str(kind), about, all_of[str(kind)], passed[str(kind)])
        for kind, about in _ABOUT.items()
        if all_of[str(kind)]
    ]


def source_rows(records: Sequence[Mapping[str, Any]]) -> list[tuple[str, str, int]]:
    """Each source, how sure we are of it, and how many checks rest on it."""
    count = Counter(r["source_key"] for r in records)
    texts = {r["source_key"]: (r["source"], r["certainty"]) for r in records}
    return sorted((*texts[key], number) for key, number in count.items())


def _areas(records: Sequence[Mapping[str, Any]]) -> list[str]:
    present = {r["area"] for r in records}
    return [name for name in AREA_TITLES if name in present]


def _area(
    name: str,
    records: Sequence[Mapping[str, Any]],
    pictures: Mapping[str, Sequence[Mapping[str, str]]],
    folder: Path,
) -> dict[str, Any]:
    own = [r for r in records if r["area"] == name]
    return {
        "title": AREA_TITLES[name],
        "rows": [_row(record) for record in own],
        "seconds": f"{sum(r['seconds'] for r in own):.0f}",
        "pictures": [
            {"source": data_uri(folder / name / f"{p['name']}.svg"), "caption": p["caption"]}
            for p in pictures.get(name, ())
        ],
    }


def _row(r: Mapping[str, Any]) -> dict[str, Any]:
    several = f"worst of {r['numbers']}: {r['worst']}" if r["worst"] else ""
    if r["numbers"] > 1 and not r["worst"]:
        several = f"worst of {r['numbers']}"
    return {
        "id": r["id"],
        "what": r["what"],
        "several": several,
        "code": r["code"],
        "source": f"{r['source']}; {r['place']}",
        "certainty": r["certainty"],
        "computed": _number(r["computed"]),
        "reference": _number(r["reference"]),
        "error": _error(r["error"]),
        "tolerance": f"{r['tolerance']:.2g}",
        "reason": r["reason"],
        "passed": r["passed"],
        "note": r["note"],
    }


def _said(fault: Mapping[str, Any]) -> str:
    if not fault["caught"]:
        return "NOT NOTICED"
    if fault["error"] is None:
        return f"noticed: {fault['said']}"
    return f"noticed: error {_error(fault['error'])}"


def _number(value: float | None) -> str:
    return "none" if value is None else f"{value:.7g}".replace("-", "−")


def _error(value: float | None) -> str:
    if value is None:
        return "none"
    return "0" if value == 0 else three_digits(value) if value > 1e-3 else f"{value:.1e}"
