"""Pictures of bodies in space, drawn without a screen and laid out in millimetres of the view."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from workflow.figures_loads import arc_points
from workflow.figures_view import Ints, View

# VTK chooses its window when it is loaded: without a display only EGL draws.
if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
    os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")

import pyvista as pv

Array = NDArray[np.float64]

SHAFT_MM = 0.32
HEAD_MM = (2.2, 0.85)  # length and radius of an arrow's head
GHOST_SHARE = 0.3  # how dark a hidden body shines through


@dataclass(frozen=True)
class Picture:
    """A rendered view whose pixels are placed in millimetres.

    Attributes
    ----------
    pixels
        (rows, columns, 3).
    extent_mm
        Left, right, bottom, top in the coordinates of `View.flat`.
    """

    pixels: NDArray[np.uint8]
    extent_mm: tuple[float, float, float, float]

    def show(self, axes: Axes) -> None:
        """Paint it on axes in millimetres, without a frame."""
        axes.imshow(self.pixels, extent=self.extent_mm, interpolation="lanczos")
        axes.set_axis_off()


class Scene:
    """Bodies to be seen from several directions."""

    def __init__(self) -> None:
        self._bodies: list[tuple[Any, dict[str, Any], bool]] = []

    def add_surface(self, points: Array, triangles: Ints, **look: Any) -> None:
        """Add triangles (k, 3) on points (n, 3); `look` goes to the renderer."""
        faces = np.column_stack([np.full(len(triangles), 3), triangles]).ravel()
        self._add(pv.PolyData(np.asarray(points, dtype=float), faces).clean(), look)

    def add_polydata(self, body: Any, **look: Any) -> None:
        """Add a ready body."""
        self._add(body, look)

    def add_line(self, points: Array, radius_mm: float, **look: Any) -> None:
        """Add a round bar along points (n, 3)."""
        self._add(_bar(points, radius_mm), look)

    def add_dashes(self, points: Array, radius_mm: float, dash_mm: float, **look: Any) -> None:
        """Add a dashed line along points (n, 3)."""
        for piece in dashes(points, dash_mm):
            self._add(_bar(piece, radius_mm), look)

    def add_ball(self, centre: Array, radius_mm: float, **look: Any) -> None:
        """Add a ball."""
        self._add(
            pv.Sphere(radius=radius_mm, center=centre, theta_resolution=24, phi_resolution=24), look
        )

    def add_force(self, point: Array, vector: Array, length_mm: float, **look: Any) -> None:
        """Add a straight arrow of a length, its tail at a point."""
        unit = np.asarray(vector) / np.linalg.norm(vector)
        self._arrow(np.asarray(point) + np.linspace(0, length_mm, 20)[:, None] * unit, look)

    def add_couple(
        self, centre: Array, axis: Array, radius_mm: float, angle_rad: float, **look: Any
    ) -> None:
        """Add a curved arrow about an axis by the right-hand rule."""
        self._arrow(arc_points(centre, axis, radius_mm, angle_rad), look)

    def render(self, view: View, pixels_per_mm: float, margin_mm: float = 2.0) -> Picture:
        """Draw all bodies from a direction, to fill the picture.

        Bodies with ``ghost=True`` are hinted at where others hide them.
        """
        flat = view.flat(np.concatenate([body.points for body, _, _ in self._bodies]))
        low, high = flat.min(axis=0) - margin_mm, flat.max(axis=0) + margin_mm
        size = np.ceil((high - low) * pixels_per_mm).astype(int)
        high = low + size / pixels_per_mm
        extent = (float(low[0]), float(high[0]), float(low[1]), float(high[1]))
        pixels = self._shoot(view, extent, size, ghosts_only=False)
        if any(ghost for _, _, ghost in self._bodies):
            ghosts = self._shoot(view, extent, size, ghosts_only=True)
            there = (ghosts < 250).any(axis=2, keepdims=True)
            mixed = (1 - GHOST_SHARE) * pixels + GHOST_SHARE * ghosts
            pixels = np.where(there, mixed, pixels).astype(np.uint8)
        return Picture(pixels, extent)

    def _shoot(
        self, view: View, extent: tuple[float, ...], size: Ints, ghosts_only: bool
    ) -> NDArray[Any]:
        plotter: Any = pv.Plotter(off_screen=True, window_size=[int(size[0]), int(size[1])])
        try:
            plotter.set_background("white")
            for body, look, ghost in self._bodies:
                if ghost or not ghosts_only:
                    plotter.add_mesh(body, **look)
            middle = np.array([extent[0] + extent[1], extent[2] + extent[3]]) / 2
            _aim(plotter, view, middle, extent[3] - extent[2])
            plotter.enable_anti_aliasing("ssaa")
            return np.asarray(plotter.screenshot(return_img=True))
        finally:
            plotter.close()

    def _arrow(self, path: Array, look: dict[str, Any]) -> None:
        lengths = np.concatenate([[0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()])
        head_mm = min(HEAD_MM[0], 0.5 * lengths[-1])
        shaft = path[lengths <= lengths[-1] - head_mm]
        direction = path[-1] - shaft[-1]
        tip = pv.Cone(
            center=0.5 * (path[-1] + shaft[-1]),
            direction=direction,
            height=float(np.linalg.norm(direction)),
            radius=HEAD_MM[1],
            resolution=32,
        )
        self._add(_bar(shaft, SHAFT_MM), look)
        self._add(tip, look)

    def _add(self, body: Any, look: dict[str, Any]) -> None:
        kept = {key: value for key, value in look.items() if key != "ghost"}
        self._bodies.append((body, kept, bool(look.get("ghost", False))))


def dashes(points: Array, dash_mm: float) -> list[Array]:
    """Pieces (n, 3) of a line, dash and gap of equal length."""
    points = np.asarray(points, dtype=float)
    arc = np.concatenate([[0], np.linalg.norm(np.diff(points, axis=0), axis=1).cumsum()])
    starts = np.arange(0.0, arc[-1], 2 * dash_mm)

    def at(s: Array) -> Array:
        return np.column_stack([np.interp(s, arc, column) for column in points.T])

    return [at(np.linspace(s, min(s + dash_mm, arc[-1]), 6)) for s in starts]


def _bar(points: Sequence[Array] | Array, radius_mm: float) -> Any:
    line = pv.lines_from_points(np.asarray(points, dtype=float))
    return line.tube(radius=radius_mm, n_sides=16, capping=True)


def _aim(plotter: Any, view: View, middle: Array, height_mm: float) -> None:
    focus = middle[0] * view.right + middle[1] * view.up
    camera = plotter.camera
    camera.focal_point = focus
    camera.position = focus + 400.0 * view.towards
    camera.up = view.up
    camera.parallel_projection = True
    camera.parallel_scale = height_mm / 2
    plotter.renderer.ResetCameraClippingRange()
