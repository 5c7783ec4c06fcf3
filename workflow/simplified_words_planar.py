"""Chapter on planar statics: paragraphs and limits, computed from the error map."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from workflow.simplified import extreme, good_up_to, sizes
from workflow.simplified_chapter import Chapter, Limit, percent, rounded, signed, up_to

_ANGLE, _TARGET, _ANCHOR = "angle_deg", "target_offset_mm", "anchor_offset_mm"
_APART, _TURN = "rotation_centre_apart_percent_of_root", "target_out_of_plane_percent"


def planar_chapter(table: pd.DataFrame, study: Mapping[str, Any], limit: float) -> Chapter:
    """Planar statics against the appliance in space.

    Parameters
    ----------
    table
        Table of `workflow.simplified_planar.planar_map`.
    study
        Its settings: the part ``planar`` of the study.
    """
    most = float(table[_ANGLE].max())
    couple, projected, force, apart, out = (
        _angle_up_to(table, column, limit)
        for column in (
            "couple_error_percent",
            "projected_couple_error_percent",
            "force_error_percent",
            _APART,
            "couple_out_of_plane_percent",
        )
    )
    on_axis = table[table[_TARGET] == 0]
    straight = table[table[_ANGLE] == 0]
    angle = _up_to(on_axis, _ANGLE, _TURN, limit)
    offset = _up_to(straight, _TARGET, _TURN, limit)
    anchor = _up_to(straight, _ANCHOR, "anchor_aside_percent", limit)
    steep, flat = table[table[_ANGLE] == most], straight[straight[_ANCHOR] > 0]
    per_mm = float((flat["anchor_aside_percent"] / flat[_ANCHOR]).median())
    seen = extreme(table["projected_couple_error_percent"])
    turned = extreme(steep[steep[_TARGET] == 0][_TURN])
    return Chapter(
        name="planar",
        title="Planar statics of the whole appliance",
        formula="F = 3EIδ/(L²(L + b)), couple = F (L + b/2) along the wire, target moving in its "
        "plane, against wire and teeth in space",
        said=(
            f"A tooth {study['target']} in a tube of {study['tube_mm']:g} mm, the hook on a tooth "
            f"{study['anchor']}, a straight wire with a span of {study['span_mm']:g} mm. The angle "
            f"is that of the wire to the target's mesial axis, seen from occlusal.",
            f"The couple is the force times the distance by statics alone: with the distance seen "
            f"square to the plane it is within {percent(seen)} at any angle and offset of the map. "
            f"Measured along a wire that follows the arch, the distance is too long: "
            f"{signed(extreme(steep['couple_error_percent']))} at {most:g}°. The force errs by "
            f"{signed(extreme(steep['force_error_percent']))} there, for a wire at an angle also "
            f"twists in its tube.",
            f"The centre of rotation is off by {percent(extreme(table[_APART]))} of the embedded "
            f"root at worst: with an arm as long as this the couple rules, and the tooth turns "
            f"about a point near its centre of resistance whatever the arm's last millimetres.",
            f"Then there is what planar statics leaves out. With the tube "
            f"{straight[_TARGET].max():g} mm buccal of the long axis and no angle, the target's "
            f"rotation out of the plane is {percent(extreme(straight[_TURN]))} of that in it; with "
            f"an angle of {most:g}° and no offset {percent(turned)}. {_cancel_words(table)}",
            f"The anchor's crown goes aside by {percent(per_mm)} of its intrusion for every "
            f"millimetre that the hook stands off its long axis: a force along the tooth at a "
            f"bracket tips it too.",
        ),
        limits=(
            Limit(
                "couple = force × distance along the wire",
                up_to("an angle of the wire", couple, most, "°"),
                f"{signed(extreme(steep['couple_error_percent']))} at {most:g}°",
            ),
            Limit(
                "couple = force × distance seen square to the plane",
                up_to("an angle of the wire", projected, most, "°"),
                f"{percent(seen)} at worst",
            ),
            Limit(
                "force of a wire in the plane",
                up_to("an angle of the wire", force, most, "°"),
                f"{signed(extreme(steep['force_error_percent']))} at {most:g}°",
            ),
            Limit(
                "centre of rotation in the plane",
                up_to("an angle of the wire", apart, most, "°"),
                f"{percent(extreme(table[_APART]))} of the embedded root at worst",
            ),
            Limit(
                "no couple out of the plane",
                up_to("an angle of the wire", out, most, "°"),
                f"{percent(extreme(steep['couple_out_of_plane_percent']))} of the couple in the "
                f"plane at {most:g}°",
            ),
            Limit(
                "no rotation of the target out of the plane",
                f"{up_to('an angle', angle, most, '°')} with the tube on the long axis, or "
                f"{up_to('an offset', offset, float(table[_TARGET].max()), 'mm')} without an angle",
                f"{percent(extreme(table[_TURN]))} of the rotation in the plane at worst",
            ),
            Limit(
                "no movement of the anchor's crown aside",
                up_to("a hook", anchor, float(table[_ANCHOR].max()), "mm")
                + " off the long axis, without an angle",
                f"{percent(extreme(table['anchor_aside_percent']))} of its intrusion at worst",
            ),
        ),
        alt="Six maps over the angle of the wire and the offset of the attachment: force, couple, "
        "centre of rotation, couple out of the plane, rotation of the target out of the plane, "
        "movement of the anchor aside.",
    )


def _up_to(table: pd.DataFrame, by: str, column: str, limit: float) -> float:
    size = sizes(table, by, column)
    return good_up_to(size.index, size, limit)


def _angle_up_to(table: pd.DataFrame, column: str, limit: float) -> float:
    """Angle up to which a quantity is good at all offsets."""
    return _up_to(table, _ANGLE, column, limit)


def least_turn(table: pd.DataFrame) -> pd.Series:
    """Angle at which the target turns least out of the plane, for each offset of the tube."""
    turns = sizes(table, [_TARGET, _ANGLE], _TURN).unstack(_ANGLE)
    return turns.idxmin(axis=1).astype(float)


def _cancel_words(table: pd.DataFrame) -> str:
    best = least_turn(table)
    offset = float(best.index[-1])
    left = table[(table[_TARGET] == offset) & (table[_ANGLE] == best[offset])][_TURN].max()
    return (
        f"The two are of opposite sign, for what tips the tooth buccally is the distance of the "
        f"hook's line of force from its long axis: at {offset:g} mm an angle of "
        f"{rounded(float(best[offset]))}° leaves {percent(float(left))}, the least for that offset."
    )
