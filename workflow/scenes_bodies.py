"""Bodies of a scene as compact triangles: teeth thinned out, wire, attachments and arrows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workflow.figures_view import Ints
from workflow.scene import Scene, pv

Array = NDArray[np.float64]

UNITS_PER_MM = 100  # points are whole numbers of 10 µm
MOST_TRIANGLES = 3000  # of a crown or a root; fewer would show through a ligament


@dataclass(frozen=True)
class Surface:
    """Triangles in the patient.

    Attributes
    ----------
    points
        (n, 3), mm.
    triangles
        (k, 3).
    """

    points: Array
    triangles: Ints

    @classmethod
    def of(cls, body: Any) -> Surface:
        """From a body of pyvista."""
        faces = body.triangulate().regular_faces
        return cls(np.asarray(body.points, dtype=float), np.asarray(faces, dtype=np.int64))

    def record(self) -> dict[str, list[int]]:
        """Points and triangles as whole numbers, one after the other."""
        return {
            "points_10um": whole(self.points),
            "triangles": self.triangles.ravel().tolist(),
        }


def whole(points: Array) -> list[int]:
    """Coordinates of points (n, 3) in mm as whole numbers of 10 µm, point after point."""
    return np.rint(UNITS_PER_MM * np.asarray(points, dtype=float)).astype(int).ravel().tolist()


def thinned(points: Array, triangles: Ints, most: int = MOST_TRIANGLES) -> Surface:
    """A surface with at most so many triangles, its border kept, or as it is if it has no more.

    Parameters
    ----------
    points, triangles
        (n, 3) mm and (k, 3); points that no triangle uses are dropped.
    """
    body = _polydata(points, triangles).clean()
    share = 1.0 - most / body.n_cells
    if share > 0:
        body = body.decimate_pro(share, preserve_topology=True, boundary_vertex_deletion=False)
    return Surface.of(body)


def section(points: Array, triangles: Ints, origin: Array, normal: Array) -> list[Array]:
    """Straight pieces (2, 3) of the outline in which a plane cuts a surface."""
    cut = _polydata(points, triangles).slice(normal=normal, origin=origin)
    return list(np.asarray(cut.points, dtype=float)[cut.lines.reshape(-1, 3)[:, 1:]])


def _polydata(points: Array, triangles: Ints) -> Any:
    faces: Any = triangles  # its hints know only one kind of whole numbers
    return pv.PolyData.from_regular_faces(np.asarray(points, dtype=float), faces)


class Bodies(Scene):
    """Bodies as the figures draw them, to be handed on as triangles."""

    def surface(self) -> Surface:
        """All bodies in one."""
        return Surface.of(pv.merge([body.clean().triangulate() for body, _, _ in self._bodies]))


def bar(points: Array, radius_mm: float) -> Surface:
    """A round bar along points (n, 3)."""
    bodies = Bodies()
    bodies.add_line(points, radius_mm)
    return bodies.surface()


def ball(centre: Array, radius_mm: float) -> Surface:
    """A ball."""
    bodies = Bodies()
    bodies.add_ball(centre, radius_mm)
    return bodies.surface()


def force_arrow(point: Array, vector: Array, length_mm: float) -> Surface:
    """A straight arrow, its tail at a point."""
    bodies = Bodies()
    bodies.add_force(point, vector, length_mm)
    return bodies.surface()


def couple_arrow(point: Array, axis: Array, radius_mm: float, angle_rad: float) -> Surface:
    """A curved arrow about an axis by the right-hand rule."""
    bodies = Bodies()
    bodies.add_couple(point, axis, radius_mm, angle_rad)
    return bodies.surface()
