"""Thick cylinder and sphere under inner pressure, compressible and nearly incompressible."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.material import Elastic
from geometry.ligament import ligament_layer
from geometry.mesh import TetMesh, TriSurface
from workflow.verification.benchmarks_meshes import Cuts, named_facets, ring_slab, sphere_octant
from workflow.verification.benchmarks_solids import Field, solved, stress_at
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

E, PRESSURE = 1000.0, 1.0
RATIOS = (0.3, 0.49, 0.499)
_TUBE, _SHELL = (3.0, 9.0), (1.0, 2.0)
_ACROSS = 32
_AROUND, _LAYERS, _SLICE = 128, 12, 0.2
_SPHERE_SIZE = 0.08
_LABELS = [f"ν = {ratio:g}" for ratio in RATIOS]


@cache
def _tube(poisson_ratio: float) -> Field:
    """Quarter of the cylinder as a slab, its elements growing with the radius."""
    a, b = _TUBE
    growth = (b / a) ** (1 / _ACROSS)
    cuts = Cuts(2 * _ACROSS), Cuts(_ACROSS, growth)
    mesh = ring_slab((a, a), (b, b), (0, _SLICE), (1,), *cuts)
    held = {"x_axis": "y", "y_axis": "x", "bottom": "z", "top": "z"}
    return solved(mesh, Elastic(E, poisson_ratio), held, {"inner": PRESSURE})


def _layered_tube(poisson_ratio: float) -> Field:
    """Whole slice of the cylinder, grown as layers of prisms from its inner surface.

    Three components at three nodes stop it from moving as a body; they carry no force.
    """
    mesh = _grown_tube()
    a = _TUBE[0]
    right, top, left = (
        np.flatnonzero(np.linalg.norm(mesh.points - place, axis=1) < 1e-9)
        for place in np.array([[a, 0, 0], [0, a, 0], [-a, 0, 0]])
    )
    return solved(
        mesh,
        Elastic(E, poisson_ratio),
        {"bottom": "z", "top": "z"},
        {"root": PRESSURE},
        held_nodes=[(right, "y"), (left, "y"), (top, "x")],
        layered=True,
    )


@cache
def _grown_tube() -> TetMesh:
    a, b = _TUBE
    angle = 2 * np.pi * np.arange(_AROUND) / _AROUND
    normals = np.tile(np.stack([np.cos(angle), np.sin(angle), 0 * angle], axis=1), (2, 1))
    height = np.repeat([0.0, _SLICE], _AROUND)
    points = a * normals + height[:, None] * [0, 0, 1]
    plan = TriSurface.one_patch(points, _band(_AROUND), "root")
    mesh = ligament_layer(plan, b - a, _LAYERS, normals=normals)
    ends = {
        "bottom": lambda p: np.abs(p[:, 2]) < 1e-9,
        "top": lambda p: np.abs(p[:, 2] - _SLICE) < 1e-9,
    }
    # A layer's inner facets face away from the tooth, pressure needs them outwards.
    inward = {"root": mesh.facets["root"][:, ::-1]}
    return replace(mesh, facets={**inward, **named_facets(mesh.points, mesh.tets, ends)})


def _band(around: int) -> Ints:
    """Triangles between two rings of points, their diagonals alternating."""
    p = np.arange(around)
    q = (p + 1) % around
    r, s = p + around, q + around
    even = (p % 2 == 0)[:, None]
    one = np.where(even, np.stack([p, q, s], 1), np.stack([p, q, r], 1))
    two = np.where(even, np.stack([p, s, r], 1), np.stack([q, s, r], 1))
    return np.concatenate([one, two])


@cache
def _sphere(poisson_ratio: float) -> Field:
    mesh = sphere_octant(*_SHELL, _SPHERE_SIZE)
    held = {axis: axis for axis in "xyz"}
    return solved(mesh, Elastic(E, poisson_ratio), held, {"inner": PRESSURE})


def _mean_radial(field: Field, facets: str, axes: int) -> float:
    """Mean radial displacement of the vertices on some facets."""
    vertices = np.unique(field.mesh.facets[facets])
    radial = field.mesh.points[vertices, :axes]
    radial = radial / np.linalg.norm(radial, axis=1, keepdims=True)
    return float(np.mean(np.sum(field.displacements[vertices, :axes] * radial, axis=1)))


def _tube_displacement(nu: float) -> float:
    """u(a) = (1 + ν) p a²/(E (b² − a²)) [(1 − 2ν) a + b²/a]."""
    a, b = _TUBE
    scale = (1 + nu) * PRESSURE * a**2 / (E * (b**2 - a**2))
    return scale * ((1 - 2 * nu) * a + b**2 / a)


def _sphere_displacement(nu: float) -> float:
    """u(a) = p a³/(E (b³ − a³)) [(1 − 2ν) a + (1 + ν) b³/(2 a²)]."""
    a, b = _SHELL
    scale = PRESSURE * a**3 / (E * (b**3 - a**3))
    return scale * ((1 - 2 * nu) * a + (1 + nu) * b**3 / (2 * a**2))


def _hoop(field: Field, radius: float) -> float:
    return float(stress_at(field, np.array([radius, 0.0, 0.0]))[1, 1])


def _cylinder() -> Compared:
    computed = [_mean_radial(_tube(nu), "inner", 2) for nu in RATIOS]
    return Compared(computed, [_tube_displacement(nu) for nu in RATIOS], labels=_LABELS)


def _cylinder_layered() -> Compared:
    computed = [_mean_radial(_layered_tube(nu), "root", 2) for nu in RATIOS]
    return Compared(computed, [_tube_displacement(nu) for nu in RATIOS], labels=_LABELS)


def _cylinder_hoop() -> Compared:
    computed = [_hoop(_tube(nu), radius) for nu in RATIOS for radius in _TUBE]
    labels = [f"{label}, r = {radius:g}" for label in _LABELS for radius in _TUBE]
    return Compared(computed, [1.25, 0.25] * len(RATIOS), labels=labels, note=_RECOVERED)


def _sphere_inside() -> Compared:
    computed = [_mean_radial(_sphere(nu), "inner", 3) for nu in RATIOS]
    return Compared(computed, [_sphere_displacement(nu) for nu in RATIOS], labels=_LABELS)


_RECOVERED = (
    "A quadratic polynomial through the quadrature points of two rings of elements around the "
    "point, evaluated there."
)
_CODE = "fem.assembly.Assembler.stiffness, fem.solver.solve_spd"
_POLYGON = "64 chords a quarter lie up to 7.5e-5 of the radius inside the circle; four times that"

CHECKS = (
    Check(
        id="lame_cylinder",
        what="thick cylinder under inner pressure, ν to 0.499: radial displacement inside",
        code=_CODE,
        kind=Kind.BENCHMARK,
        source="lame",
        place="plane strain; also the thick cylinder of MacNeal & Harder",
        tolerance=3e-4,
        reason=_POLYGON,
        compute=_cylinder,
    ),
    Check(
        id="lame_cylinder_layered",
        what="the same with the dilatation projected prism by prism",
        code="fem.assembly.LayerDilatation.stiffness, geometry.ligament.ligament_layer",
        kind=Kind.BENCHMARK,
        source="lame",
        place="plane strain",
        tolerance=1.2e-3,
        reason="32 chords a quarter lie up to 3.0e-4 of the radius inside; four times that",
        compute=_cylinder_layered,
    ),
    Check(
        id="lame_cylinder_hoop",
        what="thick cylinder under inner pressure, ν to 0.499: hoop stress inside and outside",
        code=_CODE,
        kind=Kind.BENCHMARK,
        source="lame",
        place="plane strain: 1.25 and 0.25 of the pressure",
        tolerance=1e-3,
        reason="halving the elements for the last time still moves the stress by 0.1 %",
        compute=_cylinder_hoop,
    ),
    Check(
        id="lame_sphere",
        what="thick sphere under inner pressure, ν to 0.499: radial displacement inside",
        code=_CODE,
        kind=Kind.BENCHMARK,
        source="lame",
        place="sphere of radii 1 and 2",
        tolerance=5e-3,
        reason="facets of 0.08 lie up to h²/6 = 1.1e-3 of the radius inside; some five times that",
        compute=_sphere_inside,
    ),
)
