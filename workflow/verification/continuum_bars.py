"""Elastic bars and shells against closed forms, through the code path of an elastic tooth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTet

from fem.deformable import deformable_support
from fem.material import Elastic
from geometry.ligament import ligament_layer
from geometry.mesh import TetMesh, lone_faces, tet_volumes
from geometry.surface import sphere_surface
from workflow.verification.check import Check, Compared, Kind

Array = NDArray[np.float64]


def two_shells() -> TetMesh:
    """Shells of 3 to 3.3 mm (ligament) and 3.3 to 3.6 mm (bone) around a sphere."""
    layers = ligament_layer(sphere_surface(3.0, 4), 0.6, layers=2)
    radius = np.linalg.norm(layers.points[layers.tets], axis=2).max(axis=1)
    facets = {
        "root": layers.facets["root"],
        "socket": layers.facets["root"] + len(layers.points) // 3,
        "bone_far": layers.facets["socket"],
    }
    bone = (radius > 3.3 + 1e-6).astype(int)
    return TetMesh(layers.points, layers.tets, bone, ("ligament", "cancellous"), facets)


def _turning_in_two_shells() -> Compared:
    materials = {"ligament": Elastic(0.5, 0.3), "cancellous": Elastic(1.5, 0.2)}
    support = deformable_support(
        two_shells(), materials, np.zeros(3), elastic_tooth=False, elastic_bone=True
    )
    radii = (3.0, 3.3, 3.6)
    shears = (0.5 / 2.6, 1.5 / 2.4)
    softness = sum(
        (1 / a**3 - 1 / b**3) / (8 * np.pi * G)
        for a, b, G in zip(radii[:-1], radii[1:], shears, strict=True)
    )
    return Compared(np.diag(support.stiffness)[3:], 1 / softness, labels=["x", "y", "z"])


def bar(across: int, length_mm: float, cells: int) -> TetMesh:
    """Square bar of side 2 along z, held at z = 0, its top loaded as a crown."""
    side = np.linspace(-1, 1, across + 1)
    mesh = MeshTet.init_tensor(side, side, np.linspace(0, length_mm, cells + 1))
    points, tets = mesh.p.T.copy(), mesh.t.T.astype(np.int64)
    turned = tet_volumes(points, tets) < 0
    tets[turned] = tets[turned][:, [1, 0, 2, 3]]
    slab = (points[tets][:, :, 2] < length_mm / cells + 1e-9).all(axis=1)
    skin = lone_faces(tets)
    z = points[skin][:, :, 2]
    facets = {
        "socket": skin[(z < 1e-9).all(axis=1)],
        "crown": skin[(z > length_mm - 1e-9).all(axis=1)],
    }
    return TetMesh(points, tets, slab.astype(int), ("tooth", "ligament"), facets)


def _compliance(mesh: TetMesh, material: Elastic, point: Array) -> Array:
    materials = {"tooth": material, "ligament": material}
    support = deformable_support(mesh, materials, point, elastic_tooth=True, elastic_bone=False)
    return np.asarray(np.linalg.inv(support.stiffness))


def _tension_and_bending() -> Compared:
    E, length, area, inertia = 1000.0, 6.0, 4.0, 16 / 12
    C = _compliance(bar(2, length, 4), Elastic(E, 0.0), np.array([0, 0, length]))
    # A couple about +y moves the end along +x, one about +x along −y.
    found = {
        "tension": (C[2, 2], length / (E * area)),
        "bending about x": (C[3, 3], length / (E * inertia)),
        "bending about y": (C[4, 4], length / (E * inertia)),
        "shift x by couple y": (C[0, 4], length**2 / (2 * E * inertia)),
        "shift y by couple x": (C[1, 3], -(length**2) / (2 * E * inertia)),
    }
    computed, expected = zip(*found.values(), strict=True)
    return Compared(computed, expected, labels=list(found))


def _transverse_force() -> Compared:
    E, side, length = 1000.0, 2.0, 10.0
    C = _compliance(bar(3, length, 10), Elastic(E, 0.0), np.array([0, 0, length]))
    bending = length**3 / (3 * E * side**4 / 12)
    return Compared(C[0, 0], bending + length / (5 / 6 * E / 2 * side**2))


def _torsion_of_a_round_bar() -> Compared:
    length, E, nu = 6.0, 1000.0, 0.3
    mesh = bar(8, length, 6)
    x, y, z = mesh.points.T
    disc = np.stack([x * np.sqrt(1 - y**2 / 2), y * np.sqrt(1 - x**2 / 2), z], axis=1)
    mesh = TetMesh(disc, mesh.tets, mesh.region, mesh.region_names, mesh.facets)
    C = _compliance(mesh, Elastic(E, nu), np.array([0, 0, length]))
    # Polar moment of the polygon that is meshed: exact by the middles of the triangles' sides.
    corners = disc[mesh.facets["crown"]][:, :, :2]
    sides = corners[:, 1:] - corners[:, :1]
    areas = 0.5 * np.abs(np.linalg.det(sides))
    middles = 0.5 * (corners + np.roll(corners, 1, axis=1))
    polar = np.sum(areas * (middles**2).sum(axis=(1, 2)) / 3)
    return Compared(1 / C[5, 5], E / (2 * (1 + nu)) * polar / length)


BAR_CHECKS = (
    Check(
        id="bar_tension_and_bending",
        what="compliance of a bar's end at ν = 0, mm/N and 1/(N·mm)",
        code="fem.deformable.deformable_support",
        kind=Kind.CODE,
        source="exact",
        place="N L/(E A), M L/(E I), M L²/(2 E I): Saint-Venant's own loads, quadratic fields",
        tolerance=1e-9,
        reason="the solver proves a residual below 1e-8; refined, it ends near rounding",
        compute=_tension_and_bending,
    ),
    Check(
        id="bar_transverse_force",
        what="deflection of a bar of five heights by a force across its end, mm/N",
        code="fem.deformable.deformable_support",
        kind=Kind.CODE,
        source="beam",
        place="L³/(3EI) + L/(κGA), κ = 5/6 at ν = 0 (Cowper 1966)",
        tolerance=1e-2,
        reason="the shear is spread evenly over the end and the held end cannot warp",
        compute=_transverse_force,
    ),
    Check(
        id="bar_torsion",
        what="torsional stiffness of a round bar, N·mm/rad",
        code="fem.deformable.deformable_support",
        kind=Kind.CODE,
        source="saint_venant",
        place="G J/L of a circle, J of the section as meshed",
        tolerance=5e-3,
        reason="the meshed section is no circle and warps by its facets",
        compute=_torsion_of_a_round_bar,
    ),
    Check(
        id="sphere_turning_in_two_shells",
        what="moment per turn of a rigid sphere in ligament and bone, N·mm/rad",
        code="fem.deformable.deformable_support",
        kind=Kind.CODE,
        source="shell_exact",
        place="u = A r + B/r² in each shell: 1/k = Σ (1/a³ − 1/b³)/(8πG)",
        tolerance=5e-3,
        reason="the facets of the spheres",
        compute=_turning_in_two_shells,
    ),
)
