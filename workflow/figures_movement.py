"""How each unit starts to move: outlines before and after, enlarged, from buccal and mesial."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

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
    CROWN_COLOUR,
    FORCE_COLOUR,
    LINE,
    NOTE_PT,
    OUTLINE_COLOUR,
    THIN,
    WIRE_COLOUR,
    new_figure,
    nice_at_least,
)
from workflow.figures_marks import ScaleBar, direction_marks, scale_bars
from workflow.figures_view import Directions, PlacedTooth, View, outline
from workflow.specs import Spec
from workflow.words import leading, movement_words

Array = NDArray[np.float64]

ARROW = "arrow: "  # tooth and point follow in its name
TEETH_BAR_MM = 5.0
_BELOW_MM = 6.0  # room for bars and directions
_TITLE_PAD_PT = 12.0  # from the words of the unit above
LEAST_DRAWN_MM = 1.0  # the largest displacement is drawn 1 to 2.5 mm long
_LEAST_MOVED_MM = 1e-9  # less is rounding, and not a movement to enlarge
UNMOVED = "does not move: drawn where it stands"
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
    enlargement
        How many times its movement is enlarged; None: a round number that makes it visible.
    """

    name: str
    teeth: tuple[PlacedTooth, ...]
    centre_mm: Array
    moved: Mapping[int, tuple[Array, Array, Array]]
    axis_mm: Array | None
    axis_direction: Array | None
    words: Directions
    enlargement: float | None = None

    @property
    def moves(self) -> bool:
        """Whether there is a movement to draw; a unit that is held fixed has none."""
        return self._largest_mm > _LEAST_MOVED_MM

    @property
    def factor(self) -> float:
        """How many times the movement is enlarged; 1 where there is none."""
        if not self.moves:
            return 1.0
        return self.enlargement or nice_at_least(LEAST_DRAWN_MM / self._largest_mm)

    @property
    def _largest_mm(self) -> float:
        """Displacement of the point that moves most."""
        moved = []
        for tooth in self.teeth:
            centre, shift, turn = self.moved[tooth.number]
            moved.append(shift + np.cross(turn, tooth.points - centre))
        return float(np.linalg.norm(np.concatenate(moved), axis=1).max())

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


def unit_motions(
    summary: Spec, teeth: Sequence[PlacedTooth], enlargement: float | None = None
) -> list[UnitMotion]:
    """Motions of the units of a case, each enlarged by a factor of its own unless one is given."""
    return [
        _motion(name, unit, tuple(tooth for tooth in teeth if tooth.unit == name), enlargement)
        for name, unit in summary["units"].items()
    ]


def _motion(
    name: str, unit: Spec, teeth: tuple[PlacedTooth, ...], enlargement: float | None
) -> UnitMotion:
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
        enlargement,
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
    """One row a unit, one column a view; arrows from a point of each crown and each apex."""
    figure = new_figure(9.0, 4.8 * len(motions))
    panels = figure.subplots(len(motions), 2, squeeze=False)
    for row, motion in zip(panels, motions, strict=True):
        for axes, (name, view) in zip(row, _views(motion.words).items(), strict=True):
            chosen = table[(table["unit"] == motion.name) & (table["view"] == name)]
            _draw(axes, chosen if motion.moves else chosen[chosen["kind"] != AFTER])
            if motion.moves:
                _draw_arrows(axes, motion, view)
            axes.set_title(f"{motion.name} {name}", pad=_TITLE_PAD_PT)
            aside = min(view.flat(motion.words.mesial)[0], view.flat(motion.words.buccal)[0])
            corner = (0.9 if aside < -0.5 else 0.76, 0.07)
            direction_marks(axes, view, motion.words, length_mm=3.0, corner=corner)
            scale_bars(axes, movement_bars(motion.factor)[: 1 + motion.moves], (0.0, 0.14))
        said = _said(motion, summary)
        row[0].text(0.0, 0.0, said, transform=row[0].transAxes, va="top")
    figure.legend(handles=_legend(), loc="outside lower center", ncols=4)
    figure.suptitle("Initial movement, linear ligament")
    return figure


def _said(motion: UnitMotion, summary: Spec) -> str:
    """The largest parts of a movement."""
    if not motion.moves:
        return f"unit {motion.name} {UNMOVED}"
    words = movement_words(summary["units"][motion.name]["anatomical"])
    shift, turn = leading(words, "µm").text, leading(words, "mrad").text
    return f"{shift} at the centre of resistance; {turn}"


def movement_bars(factor: float) -> tuple[ScaleBar, ...]:
    """Bars of the teeth and of their movement, which is enlarged."""
    moved_um = 1e3 * nice_at_least(LEAST_DRAWN_MM / factor)
    enlarged = f"movement {moved_um:g} µm, enlarged {factor:g} times"
    return (
        ScaleBar(TEETH_BAR_MM, f"teeth {TEETH_BAR_MM:g} mm"),
        ScaleBar(1e-3 * moved_um * factor, enlarged, FORCE_COLOUR),
    )


def _draw_arrows(axes: Axes, motion: UnitMotion, view: View) -> None:
    """How the highest point of each crown and each apex move, enlarged like the outlines."""
    for tooth in motion.teeth:
        height = tooth.points @ motion.words.occlusal
        after = motion.after(tooth)
        for name, point in (("crown", int(height.argmax())), ("apex", int(height.argmin()))):
            tail, tip = view.flat(tooth.points[point]), view.flat(after[point])
            axes.annotate(
                "",
                xy=(float(tip[0]), float(tip[1])),
                xytext=(float(tail[0]), float(tail[1])),
                annotation_clip=False,
                gid=f"{ARROW}{tooth.number} {name}",
                arrowprops={
                    "arrowstyle": "-|>,head_length=0.25,head_width=0.12",
                    "color": FORCE_COLOUR,
                    "lw": LINE,
                    "shrinkA": 0,
                    "shrinkB": 0,
                },
            )


def _draw(axes: Axes, chosen: pd.DataFrame) -> None:
    axes.set_aspect("equal")
    axes.set_axis_off()
    for _, line in chosen[chosen["kind"] == BEFORE].groupby("item"):
        axes.fill(line["right_mm"], line["up_mm"], facecolor=CROWN_COLOUR, edgecolor="none")
        axes.plot(line["right_mm"], line["up_mm"], color=OUTLINE_COLOUR, lw=THIN)
    for _, line in chosen[chosen["kind"] == AFTER].groupby("item"):
        axes.plot(line["right_mm"], line["up_mm"], color=FORCE_COLOUR, lw=THIN)
    limits = axes.axis()
    _draw_centres(axes, chosen, limits)
    middle, half = 0.5 * (limits[0] + limits[1]), 0.5 * (limits[3] - limits[2] + _BELOW_MM)
    axes.set_ylim(limits[2] - _BELOW_MM, limits[3])
    axes.set_xlim(middle - half, middle + half)


def _draw_centres(axes: Axes, chosen: pd.DataFrame, limits: tuple[float, ...]) -> None:
    """Centres of resistance and rotation; what lies outside the drawing is said."""
    for kind, marker in ((RESISTANCE, "o"), (ROTATION, "x")):
        for row in chosen[chosen["kind"] == kind].to_dict("records"):
            place = row["right_mm"], row["up_mm"]
            colour = WIRE_COLOUR if kind == RESISTANCE else COUPLE_COLOUR
            if limits[0] < place[0] < limits[1] and limits[2] < place[1] < limits[3]:
                axes.plot(*place, marker, color=colour, ms=8, mew=2, mfc="none")
                continue
            text = "centre of rotation outside the drawing"
            look: dict[str, Any] = {"color": colour, "fontsize": NOTE_PT, "ha": "center"}
            axes.text(0.5, 0.2, text, transform=axes.transAxes, **look)


def _legend() -> list[Line2D]:
    return [
        Line2D([], [], color=OUTLINE_COLOUR, label=BEFORE),
        Line2D([], [], color=FORCE_COLOUR, label=f"{AFTER}, enlarged; arrows: crown and apex"),
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
