"""Searching thousands of wires for those that give what is wished within limits.

All are solved at once, elastic throughout (`fem.batch`), and measured against every limit; what is
chosen is solved again alone, as a case, before anything is promised of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.batch import solve_batch
from fem.batch_activation import couples_Nmm, forces_N, rates_N_per_mm, solve_for_couples
from fem.batch_result import BatchResult
from fem.batch_stress import peak_stresses_MPa
from workflow.batch_answers import (
    PAST_PLATEAU,
    PAST_YIELD,
    hydrostatic_kPa,
    past_limit,
    tooth_motions,
)
from workflow.case import resolved, validate_case
from workflow.catalogue import load_catalogue
from workflow.equilibrium import engage_case
from workflow.plan import cantilever_sites
from workflow.search_config import Search
from workflow.search_field import HookPlace, Wires, design_content, wires_of
from workflow.search_limits import (
    Limit,
    chosen_row,
    keeps_all,
    limits_of,
    nearest_row,
    trade_off,
    violations,
)
from workflow.units import GF_PER_N

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_ACTION = 0.25  # share of the force that it may change by, up or down
NOT_ENGAGED = "not engaged"
_ELASTIC_NUMBERS = ["force_N", "force_gf", "couple_Nmm", "couple_gfmm", "action_mm"]


@dataclass(frozen=True)
class Found:
    """What a search found.

    Attributes
    ----------
    table
        One row a design; forces in N and gf, couples in N·mm and gf·mm. ``violation`` is the
        share by which it breaks its worst limit, ``binding``; negative: the margin left.
    violations
        The same for every limit, one column each.
    limits
        The limits.
    chosen
        Row of the chosen design, None if no design keeps all limits.
    nearest
        Row whose worst violation is least.
    """

    table: pd.DataFrame
    violations: pd.DataFrame
    limits: tuple[Limit, ...]
    chosen: int | None
    nearest: int | None

    @property
    def feasible(self) -> pd.DataFrame:
        """Designs that keep all limits, with the margin of each as a share of the limit."""
        kept = self.table["feasible"]
        margins = -self.violations[kept].add_prefix("margin ")
        dropped = ["feasible", "note", "binding", "violation"]
        return pd.concat([self.table[kept].drop(columns=dropped), margins], axis=1)


def find_designs(
    search: Search,
    hooks: tuple[HookPlace, ...],
    basis_files: Mapping[int, str],
    processes: int = 1,
) -> Found:
    """Solve and judge all designs of a search.

    ``action_mm`` is a linear estimate, ``2 · 0.25 F/k``. The rate k is that at full activation, by
    a second solution, where a design keeps all other limits; elsewhere force over activation.

    Parameters
    ----------
    search
        The search.
    hooks
        Its hooks; see `workflow.search_field.hook_places`.
    basis_files
        ``stress_basis.npz`` of each tooth, by number.
    processes
        As for `fem.batch.solve_batch`.
    """
    wires = wires_of(search, hooks)
    of_wire, offsets, result = _solved(search, wires, processes)
    many = [wires.cantilevers[k] for k in of_wire]
    table = wires.table.iloc[of_wire].reset_index(drop=True)
    table["offset_mm"] = offsets
    table["force_N"], table["couple_Nmm"] = forces_N(result), couples_Nmm(many, result)
    table["force_gf"] = GF_PER_N * table["force_N"]
    table["couple_gfmm"] = GF_PER_N * table["couple_Nmm"]
    strength = {name: row.yield_strength_MPa for name, row in load_catalogue().alloys.items()}
    table["yield_ratio"] = peak_stresses_MPa(many, result) / table["alloy"].map(strength)
    table = pd.concat([table, _ligaments(wires, of_wire, result, basis_files)], axis=1)
    table["action_mm"] = 2 * _ACTION * table["offset_mm"]
    table["note"] = result.reasons
    table = _past_limit(table)

    limits = limits_of(search, hooks[0].case)
    before_action = [limit for limit in limits if limit.column != "action_mm"]
    kept = np.flatnonzero(keeps_all(violations(table, before_action), before_action))
    if len(kept):
        some = [many[k] for k in kept]
        forces = table.loc[kept, "force_N"].to_numpy()
        rates = rates_N_per_mm(some, offsets[kept], forces, processes=processes)
        table.loc[kept, "action_mm"] = 2 * _ACTION * forces / rates
    return _judged(search, table, limits)


def _solved(search: Search, wires: Wires, processes: int) -> tuple[Ints, Array, BatchResult]:
    """Wire, offset and answer of every design, the activations of a wire in a row."""
    couples, given = search.couples_Nmm, search.offsets_mm
    activations = couples if given is None else given
    assert activations is not None
    of_wire = np.repeat(np.arange(len(wires.cantilevers)), len(activations))
    if given is None:
        offsets, result = solve_for_couples(wires.cantilevers, activations, processes=processes)
        return of_wire, offsets, result
    offsets = np.tile(given, len(wires.cantilevers))
    many = [wires.cantilevers[k] for k in of_wire]
    return of_wire, offsets, solve_batch(many, offsets, processes=processes)


def _ligaments(
    wires: Wires, of_wire: Ints, result: BatchResult, basis_files: Mapping[int, str]
) -> pd.DataFrame:
    """Hydrostatic stress that 1 % of each tooth's ligament exceeds, kPa, and the largest.

    The larger of tension and compression.
    """
    columns: dict[str, Array] = {}
    hook = wires.hook[of_wire]
    for index in range(2):
        name = wires.hooks[0].units.in_order[index]
        for position, tooth in enumerate(wires.hooks[0].units.supports[name].teeth):
            motions = np.full((len(of_wire), 6), np.nan)
            for number, place in enumerate(wires.hooks):
                unit = place.units.supports[name]
                rows, own = hook == number, unit.teeth[position]
                motions[rows] = tooth_motions(unit, result.motions[rows, index], own)
            both = hydrostatic_kPa(basis_files[tooth.number], motions)
            columns[f"ligament_{tooth.number}_kPa"] = np.maximum(-both[:, 0], both[:, 1])
    columns["ligament_kPa"] = np.max(list(columns.values()), axis=0)
    return pd.DataFrame(columns)


def _past_limit(table: pd.DataFrame) -> pd.DataFrame:
    """Mark designs past their linear limit; numbers of a superelastic one mean nothing there."""
    past, meaningless = past_limit(table["alloy"], table["yield_ratio"].to_numpy())
    table.loc[past, "note"] = PAST_YIELD
    table.loc[meaningless, "note"] = PAST_PLATEAU
    ligaments = [name for name in table if str(name).startswith("ligament")]
    table.loc[meaningless, _ELASTIC_NUMBERS + ligaments] = np.nan
    return table


def _judged(search: Search, table: pd.DataFrame, limits: Sequence[Limit]) -> Found:
    broken = violations(table, limits)
    known = broken.where(np.isfinite(broken), -np.inf)
    solved = table["yield_ratio"].notna()
    table["violation"] = known.max(axis=1).where(solved, np.inf)
    table["binding"] = known.idxmax(axis=1).where(solved | (broken["room"] > 0), NOT_ENGAGED)
    table["feasible"] = keeps_all(broken, limits) & (table["note"] == "")
    table["trade_off"] = trade_off(table)
    chosen = chosen_row(table, search.criterion)
    return Found(table, broken, tuple(limits), chosen, nearest_row(table))


def promised(search: Search, hooks: Sequence[HookPlace], row: Mapping[Any, Any]) -> dict[str, Any]:
    """A design solved alone with all the elements of the case: its content, force and couple.

    Where couples are searched, its offset is the one at which it gives exactly the couple that the
    batch aimed at.
    """
    place = next(place for place in hooks if place.name == row["hook"])
    content = design_content(search, place, row)
    aims = search.couples_Nmm if search.offsets_mm is None else None
    if aims is not None:
        aim = aims[np.abs(aims - row["couple_Nmm"]).argmin()]
        content["wire"]["activation"] = {"couple_Nmm": float(aim)}
        engaged = _engaged(content, place)
        content["wire"]["activation"] = {"offset_mm": float(engaged.solved.offset_mm)}
    engaged = _engaged(content, place)
    case = resolved(validate_case(content, "the chosen design"))
    ratio = float(engaged.stress_MPa.max()) / case["wire"]["alloy"]["yield_strength_MPa"]
    return {
        "content": content,
        "offset_mm": engaged.solved.offset_mm,
        "force_N": engaged.force_N,
        "couple_Nmm": engaged.couple_Nmm(cantilever_sites(case).tube_middle),
        "yield_ratio": ratio,
    }


def _engaged(content: dict[Any, Any], place: HookPlace) -> Any:
    return engage_case(resolved(validate_case(content, "the chosen design")), place.units)
