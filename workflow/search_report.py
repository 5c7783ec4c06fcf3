"""What a search says of itself: counts, the binding limit, and the chosen design as a case file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import yaml

from workflow.search import NOT_ENGAGED, Found, promised
from workflow.search_config import Search
from workflow.search_field import HookPlace
from workflow.units import GF_PER_N

_DESIGN = ["alloy", "section", "hook", "span_mm", "run", "offset_mm"]
_VALUES = ["force_gf", "couple_gfmm", "yield_ratio", "ligament_kPa", "action_mm", "room_mm"]


def search_report(search: Search, hooks: Sequence[HookPlace], found: Found) -> dict[str, Any]:
    """The content of ``report.json``.

    ``chosen`` and ``nearest`` are the design chosen, or the one that comes nearest to keeping all
    limits; ``limits`` gives for each the least violation over all designs, as a share of the limit,
    and ``binding`` how many designs are worst in it.
    """
    table = found.table
    engaged = int((table["binding"] != NOT_ENGAGED).sum())
    report: dict[str, Any] = {
        "search": search.search,
        "case": search.case,
        "criterion": search.criterion,
        "designs": len(table),
        "engaged": engaged,
        "feasible": int(table["feasible"].sum()),
        "trade_off": int(table["trade_off"].sum()),
        "binding": table.loc[~table["feasible"], "binding"].value_counts().to_dict(),
        "limits": [_limit_record(found, limit.name) for limit in found.limits],
        "said": said(found),
    }
    if found.chosen is not None:
        report["chosen"] = _design_record(found, found.chosen)
        promise = promised(search, hooks, table.to_dict("records")[found.chosen])
        report["promised"] = promise | {
            "force_gf": GF_PER_N * promise["force_N"],
            "couple_gfmm": GF_PER_N * promise["couple_Nmm"],
        }
    elif found.nearest is not None:
        report["nearest"] = _design_record(found, found.nearest)
    return report


def said(found: Found) -> str:
    """The outcome in one sentence: how many designs keep all limits, or which limit binds."""
    n = len(found.table)
    if found.chosen is not None:
        kept = int(found.table["feasible"].sum())
        return f"{kept} of {n} designs keep all limits"
    if found.nearest is None:
        return f"none of {n} designs can be engaged as asked"
    row = found.table.loc[found.nearest]
    limit = next(limit for limit in found.limits if limit.name == row["binding"])
    side = "at most" if limit.most else "at least"
    return (
        f"none of {n} designs keeps all limits; the nearest breaks {limit.name} by "
        f"{100 * row['violation']:.3g} %: {row[limit.column]:.4g} {limit.unit} where {side} "
        f"{limit.bound:.4g} is allowed"
    )


def _limit_record(found: Found, name: str) -> dict[str, Any]:
    limit = next(limit for limit in found.limits if limit.name == name)
    broken = found.violations[name]
    least = broken[np.isfinite(broken)].min() if np.isfinite(broken).any() else None
    return {
        "limit": name,
        "bound": limit.bound,
        "unit": limit.unit,
        "side": "most" if limit.most else "least",
        "least_violation": least,
        "can_be_kept": least is not None and bool(least <= limit.slack),
    }


def _design_record(found: Found, number: int) -> dict[str, Any]:
    row, broken = found.table.loc[number], found.violations.loc[number]
    values = {name: row[name] for name in _VALUES if np.isfinite(row[name])}
    return {
        **{name: row[name] for name in _DESIGN},
        **values,
        "margins": {str(name): -v for name, v in broken.items() if np.isfinite(v)},
        "binding": row["binding"],
        "note": row["note"],
    }


def chosen_text(report: dict[str, Any]) -> str:
    """Content of ``chosen.yaml``: the chosen design as a case, else comments alone."""
    if "promised" not in report:
        return f"# {report['said']}\n"
    promise = report["promised"]
    head = (
        f"# Found by the search {report['search']}: {report['said']}; criterion "
        f"{report['criterion']}.\n"
        f"# Alone, with all its elements, it gives {promise['couple_gfmm']:.2f} gf·mm and "
        f"{promise['force_gf']:.3f} gf at {100 * promise['yield_ratio']:.1f} % of yield.\n"
    )
    body = yaml.safe_dump(promise["content"], sort_keys=False, allow_unicode=True)
    return head + body
