"""Chapters on straight wires and loops: paragraphs and limits, computed from the error maps."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from workflow.figures_wire_study import alloy_text
from workflow.simplified import extreme, good_from, good_up_to, sizes, worst
from workflow.simplified_beams import yield_deflection_percent
from workflow.simplified_chapter import (
    Chapter,
    Limit,
    and_list,
    from_on,
    percent,
    rounded,
    signed,
    up_to,
)

_LOOPS = {"u_loop": "U loop", "helix": "helix"}


def bending_chapter(
    bent: pd.DataFrame,
    small: pd.DataFrame,
    far: pd.DataFrame,
    yield_strains: Mapping[str, float],
    limit: float,
) -> Chapter:
    """The straight clamped wire.

    Parameters
    ----------
    bent
        Table of `workflow.simplified_beams.bending_map`.
    small, far
        The study of wires against the solid: `beam_theory_table`, `large_bending_table`.
    yield_strains
        Yield strength over Young's modulus, by alloy.
    """
    least = bent[bent["deflection_percent"] == bent["deflection_percent"].min()]
    spans = least["span_over_height"]
    shortest = good_from(spans, least["error_percent"], limit)
    slender = bent[bent["span_over_height"] >= shortest]
    by_deflection = worst(slender, "deflection_percent", "error_percent")
    furthest = good_up_to(by_deflection.index, by_deflection, limit)
    most = float(by_deflection.index[-1])
    rod = max(
        float(t["rod_error_percent"].abs().max())
        for t in (small[small["shape"] == "straight"], far)
    )
    strain = _strain_formula_percent(far)
    first, last = float(least["error_percent"].iloc[0]), float(by_deflection.iloc[-1])
    when = [from_on("a span", shortest, float(spans.min()), "wire heights")]
    when.append(up_to("a deflection", furthest, most, "% of the span"))
    return Chapter(
        name="bending",
        title="A straight wire, clamped: 3EI/L³",
        formula="F = 3 E I δ / L³, against the rod that shears and turns as far as it likes",
        said=(
            f"A short wire also shears, which the formula leaves out: at a span of "
            f"{spans.min():g} heights it errs by {signed(first)} at small deflection, and from "
            f"{rounded(shortest, up=True)} heights on within {limit:g} %.",
            f"A wire bent far grows stiffer, for its tip is drawn back and the arm becomes "
            f"shorter: at {most:g} % of the span the formula gives {percent(last)} too little "
            f"force. On a short wire the two errors cancel somewhere; that is luck, not theory.",
            _yield_sentence(yield_strains, furthest, strain),
            f"The rod itself is no assumption here: on the study's grid it is within "
            f"{percent(rod)} of the three-dimensional solid, bent up to "
            f"{100 * far['deflection_over_span'].max():g} % of the span.",
        ),
        limits=(
            Limit(
                "3EI/L³ of a straight clamped wire",
                " and ".join(when),
                f"{signed(first)} at {spans.min():g} heights, {signed(last)} at {most:g} % of "
                "the span",
            ),
        ),
        alt=f"Map of the error of 3EI/L³ over span and deflection, from {signed(first)} to "
        f"{signed(float(bent['error_percent'].min()))}.",
    )


def _strain_formula_percent(far: pd.DataFrame) -> float:
    """Largest error of ``ε = 3 δ h/(2 L²)`` against the solid's strain, percent."""
    formula = 1.5 * far["deflection_over_span"] / far["span_over_height"]
    return float((100 * (formula / far["largest_strain"] - 1)).abs().max())


def _yield_sentence(strains: Mapping[str, float], furthest: float, error: float) -> str:
    """Span from which a wire, bent to where the formula fails, has not yielded yet."""
    spans = [
        f"{alloy_text(name)} from {rounded(furthest / yield_deflection_percent(e, 1.0), up=True)}"
        for name, e in strains.items()
    ]
    return (
        f"Shorter wires yield before small-deflection theory fails: they may be bent elastically "
        f"to {rounded(furthest)} % of the span only from a certain span on, "
        f"{and_list(spans)} heights (lines in the map; strain by ε = 3 δ h/(2 L²), which is within "
        f"{percent(error)} of the solid's)."
    )


def tube_chapter(tube: pd.DataFrame, play: pd.DataFrame, span_mm: float, limit: float) -> Chapter:
    """The wire in a tube, without and with play.

    Parameters
    ----------
    tube, play
        Tables of `workflow.simplified_beams.tube_map` and `play_map`.
    span_mm
        Span in the map of play.
    """
    share = tube["span_mm"] / tube["tube_mm"]
    clamp = tube.assign(share=share).sort_values("share")
    enough = good_from(clamp["share"], clamp["clamp_error_percent"], limit)
    simple = float((clamp["clamp_error_percent"] - 100 / clamp["share"]).abs().max())
    points = float(tube["two_point_error_percent"].abs().max())
    low, high = clamp.iloc[-1], clamp.iloc[0]
    said_clamp = (
        f"a span of {rounded(enough, up=True)} tube lengths or more"
        if np.isfinite(enough)
        else f"never on this map: {percent(low['clamp_error_percent'])} too stiff even at a span "
        f"of {low['span_mm']:g} mm in a tube of {low['tube_mm']:g} mm"
    )
    best = play.groupby("play_mm")["error_percent"].apply(lambda errors: errors.abs().min())
    most_play = good_up_to(best.index, best, limit)
    tight = play[play["play_mm"] == 0]
    corrected = worst(play.dropna(), "activation_mm", "corrected_error_percent")
    furthest = good_up_to(corrected.index, corrected, limit)
    at = play[play["play_mm"] == play["play_mm"].max()].iloc[-1]
    return Chapter(
        name="tube",
        title="A wire in a tube: clamp, two points, and play",
        formula="k = 3EI/L³ (clamp) or 3EI/(L²(L + b)) (two points b apart), against the rod in "
        "its tube; play p takes p(½ + L/b) of the activation",
        said=(
            f"A tube holds the wire at two points and lets it turn between them. Taken as a clamp "
            f"it is too stiff by the tube's length over the span, b/L, to within {simple:.1f} "
            f"percentage points: {signed(low['clamp_error_percent'])} at best on this map, "
            f"{signed(high['clamp_error_percent'])} for {high['span_mm']:g} mm in a tube of "
            f"{high['tube_mm']:g} mm.",
            f"The two-point formula is within {percent(points)} everywhere on the map, which is at "
            f"an activation so small that only the tube counts; the rest is shear.",
            f"Then there is play. A wire loose by {at['play_mm']:g} mm in a slot loses "
            f"{at['lost_mm']:.2g} mm of activation before it bears, and at "
            f"{at['activation_mm']:g} mm the formula without play still gives "
            f"{signed(at['error_percent'])}. It comes within {limit:g} % at some activation only "
            f"with a play of {rounded(most_play)} mm or less.",
            f"Take the lost activation off first, and the same formula is within {limit:g} % up to "
            f"{rounded(furthest)} mm ({rounded(100 * furthest / span_mm)} % of the span). What is "
            f"left beyond is large deflection, much the same without play "
            f"({signed(float(tight['error_percent'].iloc[-1]))} at {at['activation_mm']:g} mm) as "
            f"with it ({signed(float(at['corrected_error_percent']))}). Its sign is not that of "
            f"the clamped wire above: a wire cut to reach its hook from its passive place, aside, "
            f"is longer than the span, and so softer.",
        ),
        limits=(
            Limit(
                "a tube taken as a clamp, 3EI/L³",
                said_clamp,
                f"{signed(low['clamp_error_percent'])} to {signed(high['clamp_error_percent'])}",
            ),
            Limit(
                "a tube taken as two points, 3EI/(L²(L + b))",
                from_on(
                    "a span",
                    _two_point_from(tube, limit),
                    float(tube["span_mm"].min()),
                    "mm",
                ),
                f"{percent(points)} at most, small activation, no play",
            ),
            Limit(
                "slot play left out",
                up_to("play", most_play, float(best.index[-1]), "mm")
                + ", and at the best activation only",
                f"{signed(at['error_percent'])} with {at['play_mm']:g} mm of play at "
                f"{at['activation_mm']:g} mm of activation",
            ),
            Limit(
                "slot play as lost activation, p(½ + L/b)",
                up_to("an activation", furthest, float(corrected.index[-1]), "mm")
                + f" on a span of {span_mm:g} mm",
                f"{signed(float(corrected.iloc[-1]))} at {corrected.index[-1]:g} mm",
            ),
        ),
        alt=f"Four maps: clamp formula {signed(low['clamp_error_percent'])} to "
        f"{signed(high['clamp_error_percent'])}, two-point formula within {percent(points)}, and "
        "the two-point formula with slot play left out and taken off.",
    )


def _two_point_from(tube: pd.DataFrame, limit: float) -> float:
    by_span = worst(tube, "span_mm", "two_point_error_percent")
    return good_from(by_span.index, by_span, limit)


def loops_chapter(small: pd.DataFrame, limit: float) -> Chapter:
    """Tight loops: straight-beam theory against the solid, from the study of wires."""
    loops = small[small["shape"].isin(list(_LOOPS))]
    found = {
        shape: {model: _loop_from(loops, shape, model, limit) for model in ("formula", "rod")}
        for shape in _LOOPS
    }
    tightest = loops["size_over_height"].min()
    least = loops[loops["size_over_height"] == tightest]
    off = {model: extreme(least[f"{model}_error_percent"]) for model in ("formula", "rod")}
    flat = least[least["direction"] == "in_plane"]
    missed = (flat["winkler_percent"] - flat["rod_error_percent"]).abs()
    winkler = missed.groupby(flat["shape"]).max()
    lines = [
        Limit(
            f"{model_name} in a {_LOOPS[shape]}",
            from_on("a radius", found[shape][model], float(tightest), "wire heights"),
            f"{signed(_worst_of(least, shape, model))} at {tightest:g} heights",
        )
        for model, model_name in (("formula", "thin-wire formula"), ("rod", "straight-beam rod"))
        for shape in _LOOPS
    ]
    return Chapter(
        name="loops",
        title="Tight loops: straight-beam theory where the wire is curved",
        formula="1/k = ∫ (M₂²/EI₂ + M₃²/EI₃ + T²/GJ) ds and the rod, against the solid; "
        "Winkler–Bach theory foretells the rod's error",
        said=(
            f"In a bend the inner side of the wire is shorter and takes more of the stress, which "
            f"no straight-beam law knows: at a radius of {tightest:g} heights the rod errs by "
            f"{signed(off['rod'])} at worst. The formula leaves out shear as well, which works the "
            f"other way, and errs by {signed(off['formula'])}.",
            f"Winkler's theory foretells the rod's error in the plane of a U loop to within "
            f"{winkler['u_loop']:.1f} percentage points at the tightest radius, without any finite "
            f"element; in a helix, to which it does not strictly apply, to within "
            f"{winkler['helix']:.1f}.",
            "Loops stand alone here, clamped at one end and loaded at the other; legs dilute the "
            "error.",
        ),
        limits=tuple(lines),
        alt="Errors of the thin-wire formula and the rod in U loops and helices against radius "
        f"over wire height, from {tightest:g} to {loops['size_over_height'].max():g}.",
    )


def _loop_from(loops: pd.DataFrame, shape: str, model: str, limit: float) -> float:
    """Radius over height from which both sections and directions are within the limit."""
    rows = loops[loops["shape"] == shape]
    by_size = sizes(rows, "size_over_height", f"{model}_error_percent")
    return good_from(by_size.index, by_size, limit)


def _worst_of(least: pd.DataFrame, shape: str, model: str) -> float:
    rows = least[least["shape"] == shape]
    return extreme(rows[f"{model}_error_percent"])
