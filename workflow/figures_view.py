"""How a case is looked at: view directions, teeth in the patient, outlines in a view."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import contourpy
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_closing, gaussian_filter

from geometry.arch import is_lower
from geometry.frame import ToothFrame
from geometry.mesh import TetMesh
from workflow.plan import frames
from workflow.specs import Spec

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

SUPERIOR = np.array([0.0, 0.0, 1.0])
_PIXEL_MM = 0.08


@dataclass(frozen=True)
class View:
    """A parallel projection.

    Attributes
    ----------
    right, up, towards
        Orthonormal, right-handed; `towards` points from the object to the eye, (3,) each.
    """

    right: Array
    up: Array
    towards: Array

    @classmethod
    def from_direction(cls, towards: Array, up: Array = SUPERIOR) -> View:
        """View from a direction with `up` as nearly upright as it can be."""
        eye = np.asarray(towards, dtype=float) / np.linalg.norm(towards)
        right = np.cross(up, eye)
        right /= np.linalg.norm(right)
        return cls(right, np.cross(eye, right), eye)

    def flat(self, vectors: Array) -> Array:
        """Components (..., 2) to the right and up of points or vectors (..., 3)."""
        return np.asarray(vectors, dtype=float) @ np.column_stack([self.right, self.up])

    def turning(self, axial: Array) -> float:
        """Part of a couple or rotation about the line of sight; positive is anticlockwise."""
        return float(np.asarray(axial) @ self.towards)


@dataclass(frozen=True)
class Directions:
    """Words for directions common to a whole appliance, unit vectors in the patient, (3,).

    Attributes
    ----------
    mesial
        Horizontal, along the line from the tube to the hook.
    buccal
        Horizontal, across that line.
    occlusal
        Vertical.
    """

    mesial: Array
    buccal: Array
    occlusal: Array

    @property
    def buccal_view(self) -> View:
        """The mesiodistal vertical plane seen from buccal."""
        return View.from_direction(self.buccal)

    @property
    def occlusal_view(self) -> View:
        """The horizontal plane seen from occlusal, buccal up."""
        return View.from_direction(self.occlusal, self.buccal)

    @property
    def mesial_view(self) -> View:
        """The buccolingual vertical plane seen from mesial."""
        return View.from_direction(self.mesial)

    @property
    def oblique_view(self) -> View:
        """From buccal, mesial and occlusal."""
        return View.from_direction(0.6 * self.buccal + 0.45 * self.mesial + 0.65 * self.occlusal)


@dataclass(frozen=True)
class LoadPlane:
    """Plane in which the loads of an appliance are drawn.

    Attributes
    ----------
    view
        How it is looked at.
    apart
        Where the wire is drawn apart from its units, unit vector in the patient, (3,).
    ways
        Names of the directions to the right and up.
    seen
        Where it is looked at from.
    """

    view: View
    apart: Array
    ways: tuple[str, str]
    seen: str


def load_plane(case: Spec, words: Directions) -> LoadPlane:
    """The vertical plane for a wire that pulls up or down, the horizontal for one across."""
    if case["wire"]["activation"]["pulls"] in ("buccal", "lingual"):
        plane = ("mesiodistal", "buccolingual")
        return LoadPlane(words.occlusal_view, words.buccal, plane, "occlusal")
    return LoadPlane(words.buccal_view, words.occlusal, ("mesiodistal", "vertical"), "buccal")


def label_side(solved: Spec, view: View) -> float:
    """1 if the tube lies to the right of the hook in a view, else −1: labels go to that side."""
    tube, hook = np.asarray(solved["tube"]["middle_mm"]), np.asarray(solved["hook"]["touch_mm"])
    return 1.0 if (tube - hook) @ view.right >= 0 else -1.0


def directions(case: Spec, solved: Spec) -> Directions:
    """Words for directions of a case, from the line between its two attachments.

    Raises
    ------
    ValueError
        If the hook lies straight above or below the tube, where no such line exists.
    """
    line = np.asarray(solved["hook"]["touch_mm"]) - np.asarray(solved["tube"]["middle_mm"])
    line[2] = 0.0
    length = np.linalg.norm(line)
    if length < 1e-6:
        raise ValueError("hook and tube lie on one vertical line: there is no mesiodistal plane")
    placed = frames(case)
    mean_mesial, mean_buccal, _ = np.mean([frame.axes for frame in placed.values()], axis=0).T
    mesial = line / length * np.sign(line @ mean_mesial)
    across = np.cross(SUPERIOR, mesial)
    occlusal = SUPERIOR if is_lower(case["two_point"]["tooth"]) else -SUPERIOR
    return Directions(mesial, across * np.sign(across @ mean_buccal), occlusal)


@dataclass(frozen=True)
class PlacedTooth:
    """Surface of a tooth in the patient.

    Attributes
    ----------
    number, unit
        ISO 3950 number and name of the unit.
    frame
        Where it stands.
    points
        (n, 3), mm.
    crown, root
        Triangles above and below the cervix, (k, 3).
    """

    number: int
    unit: str
    frame: ToothFrame
    points: Array
    crown: Ints
    root: Ints


def placed_teeth(case: Spec, mesh_files: Mapping[int, str]) -> list[PlacedTooth]:
    """Surfaces of all teeth of a case where they stand."""
    where = frames(case)
    return [
        _placed(number, name, where[number], TetMesh.read_vtu(Path(mesh_files[number])))
        for name, unit in case["units"].items()
        for number in unit["teeth"]
    ]


def _placed(number: int, unit: str, frame: ToothFrame, mesh: TetMesh) -> PlacedTooth:
    triangles = np.concatenate([mesh.facets["crown"], mesh.facets["root"]])
    if frame.mirrored:
        triangles = triangles[:, ::-1]
    local, crown, root = split_at_zero(mesh.points, triangles, mesh.points[:, 2])
    return PlacedTooth(number, unit, frame, frame.to_patient(local), crown, root)


def split_at_zero(points: Array, triangles: Ints, level: Array) -> tuple[Array, Ints, Ints]:
    """Cut a surface where a value at its points (n,) passes zero.

    Returns
    -------
    points, above, below
        Points with those of the cut added, and the triangles on either side.
    """
    high = level[triangles] > 0.0
    count = high.sum(axis=1)
    above, below = [triangles[count == 3]], [triangles[count == 0]]
    parts = [points]
    added = len(points)
    for lone_is_high, side, other in ((True, above, below), (False, below, above)):
        cut = count == (1 if lone_is_high else 2)
        first = np.argmax(high[cut] == lone_is_high, axis=1)
        turned = np.take_along_axis(triangles[cut], (first[:, None] + np.arange(3)) % 3, axis=1)
        a, b, c = turned.T
        ab = added + np.arange(len(a))
        ac = ab + len(a)
        parts += [_where_zero(points, level, a, b), _where_zero(points, level, a, c)]
        added += 2 * len(a)
        side.append(np.stack([a, ab, ac], axis=1))
        other += [np.stack([b, c, ac], axis=1), np.stack([b, ac, ab], axis=1)]
    return np.concatenate(parts), np.concatenate(above), np.concatenate(below)


def _where_zero(points: Array, level: Array, start: Ints, end: Ints) -> Array:
    share = level[start] / (level[start] - level[end])
    return points[start] + share[:, None] * (points[end] - points[start])


def outline(points: Array, triangles: Ints) -> list[Array]:
    """Outlines (n, 2) of the shadow of a surface whose points (n, 2) are already flat, mm.

    The shadow is painted on a grid of 0.08 mm and contoured, which keeps the picture small; it is
    for drawing, not for measuring.
    """
    dots = _dots_on(np.asarray(points)[triangles])
    corner = dots.min(axis=0) - 8 * _PIXEL_MM
    cells = np.floor((dots - corner) / _PIXEL_MM).astype(int)
    shadow = np.zeros(cells.max(axis=0) + 10, dtype=bool)
    shadow[tuple(cells.T)] = True
    filled = gaussian_filter(binary_closing(shadow, iterations=2).astype(float), 1.5)
    lines = contourpy.contour_generator(z=filled.T).lines(0.5)
    return [corner + (line[::2] + 0.5) * _PIXEL_MM for line in map(np.asarray, lines)]


def _dots_on(corners: Array) -> Array:
    """Points (m, 2) spread over triangles (k, 3, 2), closer than the pixels."""
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max()
    steps = int(np.ceil(longest / (0.7 * _PIXEL_MM)))
    i, j = np.meshgrid(np.arange(steps + 1), np.arange(steps + 1), indexing="ij")
    kept = i + j <= steps
    weights = np.stack([i[kept], j[kept], steps - i[kept] - j[kept]], axis=1) / steps
    return np.einsum("wc,kcd->kwd", weights, corners).reshape(-1, 2)
