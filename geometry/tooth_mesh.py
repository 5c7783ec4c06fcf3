"""From a closed tooth surface to the whole mesh: crown and root, ligament, named facets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.anatomy import ToothDimensions
from geometry.ligament import ligament_layer, thickness_profile
from geometry.mesh import TetMesh, TriSurface
from geometry.remesh import fill_surface, remesh_surface
from geometry.surface import Plane, crest_plane, split_surface
from geometry.tooth import tooth_surface


@dataclass(frozen=True)
class ToothSpec:
    """A parametric tooth at its bone level, ready to mesh; lengths in mm.

    Parameters
    ----------
    dimensions : ToothDimensions
    crest_depth_mm : float
        How far the alveolar crest lies below the cervix; 1 to 2 mm in health.
    ligament_thickness_mm : float or tuple of three float
        Uniform, or at the crest, at mid-root and at the apex.
    ligament_layers : int
        Elements through the thickness.
    root_size_mm, crown_size_mm : float
        Edge lengths below the crest and on the crown.
    contour_spacing_mm : float
        Grid spacing at which the tooth is contoured before it is remeshed.
    """

    dimensions: ToothDimensions
    crest_depth_mm: float = 1.5
    ligament_thickness_mm: float | tuple[float, float, float] = 0.20
    ligament_layers: int = 2
    root_size_mm: float = 0.55
    crown_size_mm: float = 1.0
    contour_spacing_mm: float = 0.25


def build_tooth_mesh(spec: ToothSpec) -> TetMesh:
    """Mesh a parametric tooth and its ligament.

    Parameters
    ----------
    spec : ToothSpec

    Returns
    -------
    TetMesh
        See `mesh_tooth`.

    Raises
    ------
    ValueError
        If a size is not positive, the crest lies at or below an apex or above the cervix, or the
        ligament does not fit.
    """
    _check(spec)
    surface = tooth_surface(spec.dimensions, spec.contour_spacing_mm)
    crest = crest_plane(spec.crest_depth_mm)
    prepared = prepare_surface(surface, crest, spec.root_size_mm, spec.crown_size_mm)
    return mesh_tooth(prepared, crest, spec.ligament_thickness_mm, spec.ligament_layers)


def prepare_surface(
    surface: TriSurface, crest: Plane, root_size_mm: float, crown_size_mm: float
) -> TriSurface:
    """Cut any closed tooth surface along the crest and remesh it evenly.

    Parameters
    ----------
    surface : TriSurface
        Closed, facing outwards; parametric or scanned.
    crest : Plane
        Its normal points to the crown.
    root_size_mm, crown_size_mm : float
        Edge lengths below and above the crest.

    Returns
    -------
    TriSurface
        Patches ``"crown"`` (with the root exposed above the crest) and ``"root"``.
    """
    cut = split_surface(surface, crest, ("crown", "root"))
    return remesh_surface(cut, {"crown": crown_size_mm, "root": root_size_mm})


def mesh_tooth(
    surface: TriSurface,
    crest: Plane,
    thickness_mm: float | tuple[float, float, float] = 0.20,
    layers: int = 2,
) -> TetMesh:
    """Fill a prepared tooth surface and grow the ligament around its root.

    Parameters
    ----------
    surface : TriSurface
        Closed, with the patches ``"crown"`` and ``"root"`` (see `prepare_surface`).
    crest : Plane
    thickness_mm : float or tuple of three float
        Thickness of the ligament: uniform, or at the crest, at mid-root and at the apex.
    layers : int

    Returns
    -------
    TetMesh
        Conforming, regions ``"tooth"`` and ``"ligament"``. Facets ``"crown"`` (free surface of
        the tooth), ``"root"`` (between tooth and ligament), ``"socket"`` (between ligament and
        bone) and ``"rim"`` (free border of the ligament at the crest), facing outwards.
    """
    if isinstance(thickness_mm, int | float):
        thickness = np.full(len(surface.points), float(thickness_mm))
    else:
        thickness = thickness_profile(surface.points, crest, thickness_mm)
    ligament = ligament_layer(surface, thickness, layers, crest)
    points, tets = fill_surface(surface)
    # The ligament's first nodes are the root's, by rising number; the others are new.
    root_nodes = np.unique(surface.patch_triangles("root"))
    fresh = len(ligament.points) - len(root_nodes)
    number = np.concatenate([root_nodes, len(points) + np.arange(fresh)])
    facets = {"crown": surface.patch_triangles("crown")}
    facets |= {name: number[triangles] for name, triangles in ligament.facets.items()}
    return TetMesh(
        np.vstack([points, ligament.points[len(root_nodes) :]]),
        np.vstack([tets, number[ligament.tets]]),
        np.repeat([0, 1], [len(tets), len(ligament.tets)]),
        ("tooth", "ligament"),
        facets,
    )


def _check(spec: ToothSpec) -> None:
    number = spec.dimensions.number
    sizes = {
        "root_size_mm": spec.root_size_mm,
        "crown_size_mm": spec.crown_size_mm,
        "contour_spacing_mm": spec.contour_spacing_mm,
    }
    for name, value in sizes.items():
        if not value > 0.0:
            raise ValueError(f"tooth {number}: {name} is {value}; it must be positive")
    lengths = [root.length_mm for root in spec.dimensions.roots]
    shortest = min([spec.dimensions.root_length_mm, *lengths])
    if not 0.0 <= spec.crest_depth_mm < shortest:
        raise ValueError(
            f"tooth {number}: crest_depth_mm is {spec.crest_depth_mm}; it must lie from 0 (the "
            f"cervix) to below {shortest} (the shortest root's apex)"
        )
