"""The limits of a search, by how much designs keep or break them, and which of them are best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from workflow.search_config import Search
from workflow.specs import Spec
from workflow.units import GF_PER_N

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

_FOUND = 1e-3  # couples are found within 5e-4, also those at the ends of the wish

# What each criterion makes least.
CRITERIA = {
    "least_force": ("force_gf", 1.0),
    "least_yield_ratio": ("yield_ratio", 1.0),
    "least_ligament": ("ligament_kPa", 1.0),
    "most_action": ("action_mm", -1.0),
}


@dataclass(frozen=True)
class Limit:
    """A bound on one column of the table of designs.

    Attributes
    ----------
    name
        What it is called in tables and figures.
    column, unit
        The column, and its unit in words.
    bound
        The bound.
    most
        Whether it is an upper bound.
    slack
        Share of the bound that counts as kept.
    """

    name: str
    column: str
    unit: str
    bound: float
    most: bool
    slack: float = 0.0

    def violation(self, table: pd.DataFrame) -> Array:
        """Share of the bound by which designs break it; negative: the margin left; inf: unknown."""
        beyond = table[self.column].to_numpy(dtype=float) - self.bound
        share = (beyond if self.most else -beyond) / (self.bound or 1.0)
        return np.where(np.isnan(share), np.inf, share)


def limits_of(search: Search, case: Spec) -> tuple[Limit, ...]:
    """All limits of a search on its resolved base case."""
    bounds, wish, limits = search.limits, search.wish, []
    for name, column, unit, pair in (
        ("couple", "couple_gfmm", "gf·mm", wish.couple),
        ("force", "force_gf", "gf", wish.force),
    ):
        if pair is not None:
            low, high = (value * GF_PER_N for value in pair)
            limits += [
                Limit(f"least {name}", column, unit, low, False, _FOUND),
                Limit(f"most {name}", column, unit, high, True, _FOUND),
            ]
    for unit, most in bounds.most_force_gf.items():
        limits.append(Limit(f"force on {unit}", "force_gf", "gf", most, True))
    own = case["limits"]
    ratio = bounds.yield_ratio or own["yield_ratio"]
    ligament = bounds.ligament_hydrostatic_kPa or own["ligament_hydrostatic_kPa"]
    limits.append(Limit("yield", "yield_ratio", "of yield", ratio, True))
    limits.append(Limit("ligament", "ligament_kPa", "kPa", ligament, True))
    limits.append(Limit("room", "room_mm", "mm", bounds.room_mm, False))
    if bounds.action_mm is not None:
        limits.append(Limit("action", "action_mm", "mm", bounds.action_mm, False))
    return tuple(limits)


def violations(table: pd.DataFrame, limits: Sequence[Limit]) -> pd.DataFrame:
    """One column a limit, named by it: see `Limit.violation`."""
    return pd.DataFrame({limit.name: limit.violation(table) for limit in limits})


def keeps_all(broken: pd.DataFrame, limits: Sequence[Limit]) -> Flags:
    """Which designs keep all limits, from `violations`, (n,)."""
    slack = np.array([limit.slack for limit in limits])
    return np.asarray((broken.to_numpy() <= slack).all(axis=1))


def trade_off(table: pd.DataFrame) -> Flags:
    """Feasible designs that no other beats at once in force, couple and yield ratio, (n,).

    Less force, more couple and less stress are better.
    """
    feasible = np.flatnonzero(table["feasible"])
    values = table.loc[table["feasible"], ["force_gf", "couple_gfmm", "yield_ratio"]].to_numpy()
    cost = values * np.array([1.0, -1.0, 1.0])
    best = np.zeros(len(table), dtype=bool)
    for number, own in zip(feasible, cost, strict=True):
        beaten = (cost <= own).all(axis=1) & (cost < own).any(axis=1)
        best[number] = not beaten.any()
    return best


def chosen_row(table: pd.DataFrame, criterion: str) -> int | None:
    """Number of the feasible design that a criterion puts first; None if there is none."""
    if not table["feasible"].any():
        return None
    column, sign = CRITERIA[criterion]
    kept = np.flatnonzero(table["feasible"])
    return int(kept[np.argmin(sign * table[column].to_numpy()[kept])])


def nearest_row(table: pd.DataFrame) -> int | None:
    """Number of the design whose worst violation is least; None if nothing was solved."""
    worst = table["violation"].to_numpy(dtype=float)
    return int(worst.argmin()) if np.isfinite(worst).any() else None
