"""Chapters on a tooth's support: paragraphs and limits, computed from the error maps."""

from __future__ import annotations

import numpy as np
import pandas as pd

from workflow.simplified import (
    LAYER_QUANTITIES,
    RIGID_QUANTITIES,
    extreme,
    good_from,
    good_up_to,
    sizes,
    worst_row,
)
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
from workflow.simplified_teeth import PARABOLA_CENTRE, PARABOLA_SIGMA2

_RATIO, _SIGMA = "moment_to_force_error_percent", "sigma2_error_percent"
_CENTRE = "centre_error_percent_of_root"


def centre_chapter(teeth: pd.DataFrame, maps: pd.DataFrame, limit: float) -> Chapter:
    """The parabola's centre of resistance and σ².

    Parameters
    ----------
    teeth, maps
        Tables of `workflow.simplified_teeth.all_teeth_table` and `centre_map`, the latter with
        the number of ``roots``.
    """
    one, more = (teeth[teeth["roots"] == 1], teeth[teeth["roots"] > 1])
    good = teeth[teeth[_RATIO].abs() <= limit]
    single = maps[maps["roots"] == 1]
    by_depth = sizes(single, "crest_depth_mm", _RATIO)
    depth = good_up_to(by_depth.index, by_depth, limit)
    at_worst = worst_row(teeth, _RATIO)
    band = _sigma_band(single, limit)
    mapped = and_list([str(t) for t in dict.fromkeys(single["tooth"])])
    where = worst_row(maps, _CENTRE)
    nu = f"Poisson's ratio from {maps['poisson_ratio'].min():g} to {maps['poisson_ratio'].max():g}"
    return Chapter(
        name="centre",
        title="Centre of resistance and σ² of a flat parabola",
        formula=f"centre {PARABOLA_CENTRE:.2f} h below the crest and a·b = σ² = "
        f"{PARABOLA_SIGMA2:.4f} h² (h: crest to apex), against the tooth in its ligament in space",
        said=(
            f"Over the {teeth['tooth'].nunique()} teeth as the cases use them, the parabola's "
            f"centre differs by {_range(teeth, _CENTRE)} of the embedded root. The couple over "
            f"force for translation, with the bracket at mid-crown, is within {limit:g} % for "
            f"{len(good)} of {len(teeth)} teeth and directions, and at worst "
            f"{signed(at_worst[_RATIO])} (tooth {at_worst['tooth']}, {at_worst['direction']}).",
            f"Teeth with one root: {_range(one, _RATIO)}. With more roots: {_range(more, _RATIO)}, "
            f"their centre on average {_beside(more)}.",
            f"The maps go over {nu} and bone levels from "
            f"{maps['crest_depth_mm'].min():g} to {maps['crest_depth_mm'].max():g} mm below the "
            f"cervix. The centre is furthest off, by {percent(where[_CENTRE])} of the embedded "
            f"root, for tooth {where['tooth']} ({where['direction']}) at "
            f"{where['crest_depth_mm']:g} mm.",
            f"The error of σ² depends on the ligament: a flat outline on springs leaves out "
            f"that a root is round and that its walls also hold by shear, and the maps have errors "
            f"from {_range(maps, _SIGMA)}. {band}",
        ),
        limits=(
            Limit(
                f"centre of resistance at {PARABOLA_CENTRE:.2f} h, for the couple over force",
                f"one root (teeth {mapped} of the maps), "
                + up_to("a crest", depth, float(by_depth.index[-1]), "mm below the cervix")
                + f", {nu}",
                f"{signed(at_worst[_RATIO])} for tooth {at_worst['tooth']}",
            ),
            Limit(
                f"σ² = {PARABOLA_SIGMA2:.4f} h²", _band_when(single, limit), _range(maps, _SIGMA)
            ),
        ),
        alt="Error of the couple over force for translation and of σ², over bone level and "
        f"Poisson's ratio: {_range(maps, _RATIO)} and {_range(maps, _SIGMA)}.",
    )


def _range(table: pd.DataFrame, column: str) -> str:
    return f"{signed(float(table[column].min()))} to {signed(float(table[column].max()))}"


def _beside(teeth: pd.DataFrame) -> str:
    """Where the centre lies beside the parabola's."""
    mean = float(teeth[_CENTRE].mean())
    side = "deeper" if mean < 0 else "nearer the crest"
    return f"{percent(mean)} of the embedded root {side} than the parabola's"


def _sigma_range(table: pd.DataFrame, limit: float) -> tuple[float, float, float] | None:
    """Depth of the crest, and Poisson's ratios between which σ² is right for all its curves.

    The depth of the table at which that band is widest; None where there is none at any depth.
    """
    bands = []
    for depth, rows in table.groupby("crest_depth_mm"):
        curves = [c.sort_values("poisson_ratio") for _, c in rows.groupby(["tooth", "direction"])]
        found = [_within(c["poisson_ratio"], c[_SIGMA], limit) for c in curves]
        low, high = max(f[0] for f in found), min(f[1] for f in found)
        if low < high:
            bands.append((float(str(depth)), low, high))
    return max(bands, key=lambda b: b[2] - b[1], default=None)


def _within(ratios: pd.Series, errors: pd.Series, limit: float) -> tuple[float, float]:
    """Ends of the stretch of a rising curve on which it stays within the limit."""
    x, e = ratios.to_numpy(), errors.to_numpy()
    inside = np.interp([-limit, limit], e, x, left=np.nan, right=np.nan)
    low = x[0] if abs(e[0]) <= limit else inside[0]
    high = x[-1] if abs(e[-1]) <= limit else inside[1]
    return (float("inf"), -float("inf")) if np.isnan([low, high]).any() else (low, high)


def _sigma_band(single: pd.DataFrame, limit: float) -> str:
    found = _sigma_range(single, limit)
    if found is None:
        return (
            f"There is no Poisson's ratio at which it is within {limit:g} % for all single-rooted "
            "teeth and directions of the maps."
        )
    return (
        f"For the single-rooted teeth of the maps, both directions, it is within {limit:g} % only "
        f"for Poisson's ratios from {_ends(found)}, with the crest at "
        f"{found[0]:g} mm, where that stretch is longest."
    )


def _band_when(single: pd.DataFrame, limit: float) -> str:
    found = _sigma_range(single, limit)
    if found is None:
        return "at no Poisson's ratio of the maps for all single-rooted teeth"
    return f"one root, crest at {found[0]:g} mm, Poisson's ratio from {_ends(found)}"


def _ends(found: tuple[float, float, float]) -> str:
    return f"{rounded(found[1], up=True, digits=3)} to {rounded(found[2], digits=3)}"


def layer_chapter(thin: pd.DataFrame, limit: float) -> Chapter:
    """Thin-layer theory, from the study of supports."""
    found = _layer_limits(thin, limit)
    ratios = thin["poisson_ratio"]
    thinnest, thickest = thin["thickness_mm"].min(), thin["thickness_mm"].max()
    return Chapter(
        name="thin_layer",
        title="Thin-layer theory of the ligament",
        formula="K = ∫ Sᵀ [M n⊗n + G (1 − n⊗n)] S dA / t, against finite elements through the "
        "thickness",
        said=(
            f"Each bit of ligament answers for itself, with the constrained modulus M square to "
            f"the root and the shear modulus G along it; what it cannot know is that a nearly "
            f"incompressible layer flows out at its rim. Largest errors of the "
            f"{thin['tooth'].nunique()} teeth of the map, thickness {thinnest:g} to "
            f"{thickest:g} mm: {_largest_words(thin)}.",
            f"Over Poisson's ratio: {_at_ratio(thin, float(ratios.min()))} at "
            f"{ratios.min():g}, {_at_ratio(thin, float(ratios.max()))} at {ratios.max():g}.",
        ),
        limits=tuple(
            Limit(
                f"thin layer, for the {name}",
                up_to("Poisson's ratio", found[column], float(ratios.max()), "")
                + f", thickness {thinnest:g} to {thickest:g} mm",
                f"{percent(float(thin[column].abs().max()))} at worst",
            )
            for column, name in LAYER_QUANTITIES.items()
        ),
        alt=f"Maps of the largest error over the teeth: {_largest_words(thin)}.",
    )


def _layer_limits(table: pd.DataFrame, limit: float) -> dict[str, float]:
    """Poisson's ratio up to which a quantity is good at all teeth and thicknesses."""
    found = {column: sizes(table, "poisson_ratio", column) for column in LAYER_QUANTITIES}
    return {column: good_up_to(size.index, size, limit) for column, size in found.items()}


def _largest_words(table: pd.DataFrame) -> str:
    parts = [
        f"{name} {percent(float(table[column].abs().max()))}"
        + (" of the embedded root" if column == "centre_shift_percent" else "")
        for column, name in LAYER_QUANTITIES.items()
    ]
    return and_list(parts)


def _at_ratio(table: pd.DataFrame, ratio: float) -> str:
    rows = table[table["poisson_ratio"] == ratio]
    return f"{percent(float(rows[list(LAYER_QUANTITIES)].abs().to_numpy().max()))} at most"


def winkler_chapter(springs: pd.DataFrame, thin: pd.DataFrame, limit: float) -> Chapter:
    """Springs square to the root alone, against finite elements.

    Parameters
    ----------
    springs
        Tables of `workflow.simplified_teeth.winkler_table`.
    thin
        The same rows of thin-layer theory.
    """
    from_ratio = {column: _good_from_ratio(springs, column, limit) for column in LAYER_QUANTITIES}
    ratios = springs["poisson_ratio"]
    low = springs[springs["poisson_ratio"] == ratios.min()]
    gain = springs["occlusal_percent"].abs().max() / thin["occlusal_percent"].abs().max()
    return Chapter(
        name="winkler",
        title="Springs square to the root alone (Winkler)",
        formula="K = ∫ Sᵀ (M/t) n⊗n S dA: thin-layer theory without its shear G/t, against finite "
        "elements",
        said=(
            f"Springs that only push and pull square to the root give up what its walls hold by "
            f"shear, most of all along the axis: the axial stiffness errs by "
            f"{_range(springs, 'occlusal_percent')}, the buccal one by "
            f"{_range(springs, 'buccal_percent')}, the stiffness against tipping by "
            f"{_range(springs, 'buccal_tipping_percent')}.",
            f"The lower Poisson's ratio, the more counts the shear that is left out (M/G is "
            f"2(1 − ν)/(1 − 2ν)): {_range(low, 'buccal_percent')} sideways and "
            f"{_range(low, 'occlusal_percent')} along the axis at {ratios.min():g}. Towards "
            "incompressibility the lack of shear and the springs' ignorance of the outflow at the "
            "rim partly cancel, which is no merit of the model.",
            f"Keeping the shear costs nothing, and its worst axial error is {gain:.1f} times "
            "smaller: thin-layer theory is the better simple model."
            if gain > 1
            else "Keeping the shear does not make the worst axial error smaller on this map.",
        ),
        limits=tuple(
            Limit(
                f"normal springs, for the {name}",
                _spring_when(from_ratio[column], springs),
                f"{percent(float(springs[column].abs().max()))} at worst",
            )
            for column, name in LAYER_QUANTITIES.items()
        ),
        alt=f"Maps of the largest error over the teeth: {_largest_words(springs)}.",
    )


def _good_from_ratio(table: pd.DataFrame, column: str, limit: float) -> tuple[float, float]:
    """Poisson's ratios up to and from which a quantity is good at all teeth and thicknesses."""
    size = sizes(table, "poisson_ratio", column)
    return good_up_to(size.index, size, limit), good_from(size.index, size, limit)


def _spring_when(found: tuple[float, float], table: pd.DataFrame) -> str:
    to, start = found
    ratios = table["poisson_ratio"]
    if np.isnan(to) and np.isnan(start):
        return "not for all teeth and thicknesses at any Poisson's ratio of the map"
    if np.isnan(start):
        return up_to("Poisson's ratio", to, float(ratios.max()), "")
    return from_on("Poisson's ratio", start, float(ratios.min()), "")


def rigidity_chapter(rigid: pd.DataFrame, limit: float) -> Chapter:
    """Rigid tooth and bone, from the study of supports."""
    both = rigid[~rigid["elastic_tooth"] & ~rigid["elastic_bone"]]
    tooth_only = rigid[~rigid["elastic_tooth"] & rigid["elastic_bone"]]
    bone_only = rigid[rigid["elastic_tooth"] & ~rigid["elastic_bone"]]
    moduli = both["youngs_modulus_MPa"]
    tipping = "buccal_tipping_Nmm_per_rad_percent"
    found = {column: sizes(both, "youngs_modulus_MPa", column) for column in RIGID_QUANTITIES}
    return Chapter(
        name="rigidity",
        title="Rigid tooth and rigid bone",
        formula="the ligament alone deforms, against tooth, ligament and bone that all deform",
        said=(
            f"The softer the ligament, the less the rest counts. With a Young's modulus of "
            f"{moduli.min():g} MPa a rigid tooth in rigid bone is at most "
            f"{percent(_most(both, float(moduli.min())))} too stiff in any of the quantities "
            f"drawn; with {moduli.max():g} MPa {percent(_most(both, float(moduli.max())))}.",
            f"Of the two, {_larger(tooth_only, bone_only, tipping)} counts for more in tipping at "
            f"{moduli.max():g} MPa: a rigid tooth alone costs "
            f"{percent(_at_modulus(tooth_only, tipping))}, rigid bone alone "
            f"{percent(_at_modulus(bone_only, tipping))}.",
        ),
        limits=tuple(
            Limit(
                f"rigid tooth and bone, for the {name}",
                up_to(
                    "a Young's modulus of the ligament",
                    good_up_to(found[column].index, found[column], limit),
                    float(moduli.max()),
                    "MPa",
                )
                + f" (teeth {and_list([str(t) for t in dict.fromkeys(both['tooth'])])})",
                f"{signed(_at_modulus(both, column))} at {moduli.max():g} MPa",
            )
            for column, name in RIGID_QUANTITIES.items()
        ),
        alt="Error of rigid tooth and bone against the ligament's modulus, up to "
        f"{percent(_most(both, float(moduli.max())))}.",
    )


def _most(both: pd.DataFrame, modulus: float) -> float:
    rows = both[both["youngs_modulus_MPa"] == modulus]
    return float(rows[list(RIGID_QUANTITIES)].abs().to_numpy().max())


def _at_modulus(rows: pd.DataFrame, column: str) -> float:
    """Largest signed error at the stiffest ligament."""
    return extreme(rows[rows["youngs_modulus_MPa"] == rows["youngs_modulus_MPa"].max()][column])


def _larger(tooth: pd.DataFrame, bone: pd.DataFrame, column: str) -> str:
    more = abs(_at_modulus(tooth, column)) > abs(_at_modulus(bone, column))
    return "the tooth" if more else "the bone"
