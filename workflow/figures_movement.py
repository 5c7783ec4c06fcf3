"""How each unit starts to move: outlines before and after, enlarged, from buccal and mesial."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from fem.rigid import rotation
from geometry.frame import mean_axes
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    OUTLINE_COLOUR,
    WIRE_COLOUR,
    new_figure,
    nice_at_least,
)
from workflow.figures_appliance import direction_marks
from workflow.figures_view import Directions, PlacedTooth, View, outline
from workflow.specs import Spec
from workflow.words import leading, movement_words

Array = NDArray[np.float64]

LEAST_DRAWN_MM = 1.0  # the largest displacement is drawn 1 to 2.5 mm long
END_ON = 0.7  # cosine from which an axis counts as seen end on
BEFORE, AFTER = "before", "after"
RESISTANCE, ROTATION = "centre of resistance", "centre of rotation"


@dataclass(frozen=True)
class UnitMotion:
    """Small motion of one unit.

    Attributes
    ----------
    name, teeth
        The unit and its placed teeth.
    centre_mm
        Centre of resistance, (3,).
    moved
        Of each tooth by number: its centre of resistance, that one's displacement, mm, and the
        rotation, rad, (3,) each.
    axis_mm, axis_direction
        A point and the direction of the screw axis, (3,); None for a pure translation.
    words
        Its own directions.
    """

    name: str
    teeth: tuple[PlacedTooth, ...]
    centre_mm: Array
    moved: Mapping[int, tuple[Array, Array, Array]]
    axis_mm: Array | None
    axis_direction: Array | None
    words: Directions

    @property
    def factor(self) -> float:
        """Round factor that makes the largest displacement visible."""
        moved = []
        for tooth in self.teeth:
            centre, shift, turn = self.moved[tooth.number]
            moved.append(shift + np.cross(turn, tooth.points - centre))
        largest = np.linalg.norm(np.concatenate(moved), axis=1).max()
        return nice_at_least(LEAST_DRAWN_MM / float(largest))

    def after(self, tooth: PlacedTooth) -> Array:
        """Points (n, 3) of a tooth after its enlarged motion, as a rigid body."""
        centre, shift, turn = self.moved[tooth.number]
        turned = (tooth.points - centre) @ rotation(self.factor * turn).T
        return np.asarray(centre + self.factor * shift + turned)

    def centre_of_rotation(self, view: View) -> Array | None:
        """Where the axis, if seen nearly end on, crosses the plane of the centre of resistance."""
        if self.axis_mm is None or self.axis_direction is None:
            return None
        cosine = float(self.axis_direction @ view.towards)
        if abs(cosine) < END_ON:
            return None
        along = float((self.centre_mm - self.axis_mm) @ view.towards) / cosine
        return np.asarray(self.axis_mm + along * self.axis_direction)


def unit_motions(summary: Spec, teeth: Sequence[PlacedTooth]) -> list[UnitMotion]:
    """Motions of the units of a case."""
    return [
        _motion(name, unit, tuple(tooth for tooth in teeth if tooth.unit == name))
        for name, unit in summary["units"].items()
    ]


def _motion(name: str, unit: Spec, teeth: tuple[PlacedTooth, ...]) -> UnitMotion:
    screw = unit["screw_axis"] or {"point_mm": None, "direction": None}
    known = screw["point_mm"] is not None
    return UnitMotion(
        name,
        teeth,
        np.asarray(unit["resistance_centre_mm"]),
        {int(tooth): _small_motion(own) for tooth, own in unit["movement_by_tooth"].items()},
        np.asarray(screw["point_mm"]) if known else None,
        np.asarray(screw["direction"]) if known else None,
        _own_directions(teeth),
    )


def _small_motion(record: Spec) -> tuple[Array, Array, Array]:
    return (
        np.asarray(record["resistance_centre_mm"]),
        np.asarray(record["displacement_at_resistance_um"]) * 1e-3,
        np.asarray(record["rotation_mrad"]) * 1e-3,
    )


def _own_directions(teeth: Sequence[PlacedTooth]) -> Directions:
    """Horizontal mesial and buccal, and vertical occlusal, of some teeth."""
    mesial, buccal, occlusal = mean_axes([tooth.frame for tooth in teeth]).T
    upright = np.array([0.0, 0.0, np.sign(occlusal[2])])
    flat = mesial * [1, 1, 0]
    flat /= np.linalg.norm(flat)
    across = np.cross(upright, flat)
    return Directions(flat, across * np.sign(across @ buccal), upright)


def movement_table(motions: Sequence[UnitMotion]) -> pd.DataFrame:
    """Outlines and centres in both views: one row a point, mm, and the factor of enlargement."""
    rows = [row for motion in motions for row in _rows(motion)]
    return pd.concat(rows, ignore_index=True)


def _rows(motion: UnitMotion) -> Iterator[pd.DataFrame]:
    for name, view in _views(motion.words).items():
        labels = {"unit": motion.name, "view": name, "factor": motion.factor}
        for tooth in motion.teeth:
            triangles = np.concatenate([tooth.crown, tooth.root])
            states = {BEFORE: tooth.points, AFTER: motion.after(tooth)}
            for state, points in states.items():
                for number, line in enumerate(outline(view.flat(points), triangles)):
                    item = f"{tooth.number} {state} {number}"
                    yield _table(labels | {"item": item, "kind": state}, line)
        marks = {RESISTANCE: motion.centre_mm, ROTATION: motion.centre_of_rotation(view)}
        for kind, point in marks.items():
            if point is not None:
                yield _table(labels | {"item": kind, "kind": kind}, view.flat(point)[None])


def _views(words: Directions) -> dict[str, View]:
    return {"from buccal": words.buccal_view, "from mesial": words.mesial_view}


def _table(labels: dict[str, object], points: Array) -> pd.DataFrame:
    return pd.DataFrame(labels | {"right_mm": points[:, 0], "up_mm": points[:, 1]})


def movement_figure(table: pd.DataFrame, motions: Sequence[UnitMotion], summary: Spec) -> Figure:
    """One row a unit, one column a view."""
    figure = new_figure(9.0, 4.8 * len(motions))
    panels = figure.subplots(len(motions), 2, squeeze=False)
    for row, motion in zip(panels, motions, strict=True):
        for axes, (name, view) in zip(row, _views(motion.words).items(), strict=True):
            chosen = table[(table["unit"] == motion.name) & (table["view"] == name)]
            _draw(axes, chosen)
            axes.set_title(f"{motion.name} {name}, movement × {motion.factor:g}")
            direction_marks(axes, view, motion.words, length_mm=3.0, corner=(0.8, 0.05))
        words = movement_words(summary["units"][motion.name]["anatomical"])
        row[0].text(
            0.0,
            -0.02,
            f"{leading(words, 'µm').text} at the centre of resistance; "
            f"{leading(words, 'mrad').text}",
            transform=row[0].transAxes,
            fontsize=9,
            va="top",
        )
    figure.legend(handles=_legend(), loc="outside lower center", ncols=4, frameon=False)
    figure.suptitle("Initial movement, linear ligament", fontsize=11)
    return figure


def _draw(axes: Axes, chosen: pd.DataFrame) -> None:
    axes.set_aspect("equal")
    axes.set_axis_off()
    for _, line in chosen[chosen["kind"] == BEFORE].groupby("item"):
        axes.fill(line["right_mm"], line["up_mm"], facecolor="#F3EDDC", edgecolor="none")
        axes.plot(line["right_mm"], line["up_mm"], color=OUTLINE_COLOUR, lw=1.0)
    for _, line in chosen[chosen["kind"] == AFTER].groupby("item"):
        axes.plot(line["right_mm"], line["up_mm"], color=FORCE_COLOUR, lw=1.6)
    limits = axes.axis()
    for kind, marker in ((RESISTANCE, "o"), (ROTATION, "x")):
        for row in chosen[chosen["kind"] == kind].to_dict("records"):
            place = row["right_mm"], row["up_mm"]
            inside = limits[0] < place[0] < limits[1] and limits[2] < place[1] < limits[3]
            if inside:
                colour = WIRE_COLOUR if kind == RESISTANCE else COUPLE_COLOUR
                axes.plot(*place, marker, color=colour, ms=8, mew=2, mfc="none")
            else:
                axes.text(
                    0.02,
                    0.0,
                    "centre of rotation outside the drawing",
                    transform=axes.transAxes,
                    fontsize=8,
                    color=COUPLE_COLOUR,
                )
    middle, half = 0.5 * (limits[0] + limits[1]), 0.5 * (limits[3] - limits[2] + 3.5)
    axes.set_ylim(limits[2] - 3.5, limits[3])
    axes.set_xlim(middle - half, middle + half)


def _legend() -> list[Line2D]:
    return [
        Line2D([], [], color=OUTLINE_COLOUR, label=BEFORE),
        Line2D([], [], color=FORCE_COLOUR, lw=2, label=f"{AFTER}, enlarged"),
        Line2D([], [], color=WIRE_COLOUR, marker="o", mfc="none", ls="", label=RESISTANCE),
        Line2D(
            [],
            [],
            color=COUPLE_COLOUR,
            marker="x",
            mew=2,
            ls="",
            label=f"{ROTATION}, where its axis is seen end on",
        ),
    ]
