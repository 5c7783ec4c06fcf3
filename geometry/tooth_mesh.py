"""From a closed tooth surface to the whole mesh: crown and root, ligament, named facets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from geometry.anatomy import ToothDimensions
from geometry.crest import Crest, SaddleCrest, crest_plane, onto_crest
from geometry.ligament import ligament_layer, thickness_profile
from geometry.mesh import TetMesh, TriSurface, boundary_edges
from geometry.quality import assert_quality
from geometry.remesh import fill_surface, remesh_surface
from geometry.surface import split_surface, straddling_nodes
from geometry.tooth import ToothField, tooth_surface

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ToothSpec:
    """A parametric tooth at its bone level, ready to mesh; lengths in mm.

    Parameters
    ----------
    dimensions : ToothDimensions
    crest_depth_mm : float
        How far the alveolar crest lies below the cervix; 1 to 2 mm in health.
    crest_sides_mm : tuple of four float, optional
        Its depth at the mesial, distal, buccal and lingual side instead (see `SaddleCrest`).
    crest : Crest, optional
        Any other crest in the tooth's frame, instead of both.
    loose_rim : bool
        Whether the ligament's rim may leave the crest where nothing else meshes; a bone block
        needs one that does not.
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
    crest_sides_mm: tuple[float, float, float, float] | None = None
    crest: Crest | None = None
    loose_rim: bool = True

    @property
    def crest_surface(self) -> Crest:
        """The crest as a surface in the tooth's frame."""
        if self.crest is not None:
            return self.crest
        if self.crest_sides_mm is None:
            return crest_plane(self.crest_depth_mm)
        half = self.dimensions.cervix_md_mm / 2.0, self.dimensions.cervix_bl_mm / 2.0
        return SaddleCrest(*self.crest_sides_mm, *half)


@dataclass(frozen=True)
class BuiltTooth:
    """A mesh, and what had to give way for it.

    Parameters
    ----------
    mesh : TetMesh
        See `mesh_tooth`.
    crest_shift_mm : float
        How far the crest was moved from where it was asked, positive towards the crown.
    root_size_mm : float
        Edge length used below the crest.
    rim_off_mm : float
        Greatest distance of the ligament's rim from the crest; 0 unless the rim had to be loose.
    note : str
        Empty if all was done as asked; else what was changed and why, in one sentence.
    """

    mesh: TetMesh
    crest_shift_mm: float
    root_size_mm: float
    rim_off_mm: float
    note: str


# What is tried in turn when the mesh asked for is not good enough: smaller triangles, a rim that
# leaves the crest where it cuts the roof of a furcation at a small angle, and last a little bone
# more or less, which makes room where that roof is closer to the crest than the ligament is wide.
_FINER = 0.7
_SHIFTS_MM = (0.0, 0.3, -0.3, 0.6, -0.6)


def build_tooth_mesh(spec: ToothSpec) -> TetMesh:
    """Return the mesh of `build_tooth`."""
    return build_tooth(spec).mesh


def build_tooth(spec: ToothSpec) -> BuiltTooth:
    """Mesh a parametric tooth and its ligament.

    Parameters
    ----------
    spec : ToothSpec

    Returns
    -------
    BuiltTooth

    Raises
    ------
    ValueError
        If a size is not positive, the crest lies at or below an apex or above the cervix, or the
        ligament does not fit even where `build_from_surface` gives way.
    """
    _check(spec)
    surface = tooth_surface(spec.dimensions, spec.contour_spacing_mm)
    return build_from_surface(
        surface,
        spec.crest_surface,
        spec.ligament_thickness_mm,
        spec.ligament_layers,
        spec.root_size_mm,
        spec.crown_size_mm,
        f"tooth {spec.dimensions.number}",
        spec.loose_rim,
        ToothField(spec.dimensions).project,
    )


def build_from_surface(
    surface: TriSurface,
    crest: Crest,
    thickness_mm: float | tuple[float, float, float] = 0.20,
    layers: int = 2,
    root_size_mm: float = 0.55,
    crown_size_mm: float = 1.0,
    name: str = "tooth",
    loose_rim: bool = True,
    onto: Callable[[Floats], Floats] | None = None,
) -> BuiltTooth:
    """Mesh any closed tooth surface, giving way a little where the mesh asked for is not good.

    Where elements come out below the gate of `geometry.quality`, as where the crest runs through
    a furcation, smaller triangles are tried, then a rim that leaves the crest there, and last a
    crest up to 0.6 mm nearer to or farther from the crown. The result says which. A repair of
    single nodes of the ligament, which keeps all that was asked, comes before and is not told
    (see `geometry.easing`).

    Parameters
    ----------
    surface : TriSurface
        Closed, facing outwards, free of self-intersection; parametric or scanned.
    crest : Crest
        Its height rises towards the crown.
    thickness_mm, layers
        See `mesh_tooth`.
    root_size_mm, crown_size_mm : float
        Edge lengths below and above the crest.
    name : str
        Of the tooth, for messages.
    loose_rim : bool
        Whether the rim may leave the crest. A bone block needs a rim that does not.
    onto : callable, optional
        See `prepare_surface`.

    Raises
    ------
    ValueError
        If no attempt passes the gate; the message gives the first attempt's reason.
    """
    first = ""
    for shift in _SHIFTS_MM:
        moved = crest.moved(shift) if shift else crest
        ready: dict[float, TriSurface] = {}
        for loose, size in product(
            sorted({False, loose_rim}), (root_size_mm, _FINER * root_size_mm)
        ):
            try:
                if size not in ready:
                    crown_mm = max(crown_size_mm, size)
                    ready[size] = prepare_surface(surface, moved, size, crown_mm, onto)
                mesh = mesh_tooth(ready[size], moved, thickness_mm, layers, loose)
                assert_quality(mesh)
            except (ValueError, RuntimeError) as error:
                first = first or str(error)
                continue
            off = _rim_off_mm(mesh, moved) if loose else 0.0
            return BuiltTooth(
                mesh, shift, size, off, _note(shift, size, size < root_size_mm, off, first)
            )
    raise ValueError(
        f"{name}: no good mesh within {max(_SHIFTS_MM)} mm of the crest; with it as asked: {first}"
    )


def _rim_off_mm(mesh: TetMesh, crest: Crest) -> float:
    return float(np.abs(crest.height(mesh.points[np.unique(mesh.facets["rim"])])).max())


def _note(shift: float, size: float, finer: bool, off: float, reason: str) -> str:
    changes = []
    if shift:
        side = "crown" if shift > 0.0 else "apex"
        changes.append(f"the crest was moved {abs(shift):.1f} mm towards the {side}")
    if finer:
        changes.append(f"triangles of {size:.2f} mm were taken below the crest")
    if off:
        changes.append(f"the ligament's rim leaves the crest by up to {off:.2f} mm")
    return f"{' and '.join(changes)}, because: {reason}" if changes else ""


def prepare_surface(
    surface: TriSurface,
    crest: Crest,
    root_size_mm: float,
    crown_size_mm: float,
    onto: Callable[[Floats], Floats] | None = None,
) -> TriSurface:
    """Cut any closed tooth surface along the crest and remesh it evenly.

    The root's nodes are then moved so that its facets straddle it (see `straddling_nodes`), those
    on the crest along the crest.

    Parameters
    ----------
    surface : TriSurface
        Closed, facing outwards; parametric or scanned.
    crest : Crest
        Its height rises towards the crown.
    root_size_mm, crown_size_mm : float
        Edge lengths below and above the crest.
    onto : callable, optional
        Moves points (n, 3) close to the surface onto it, where it is known better than by
        `surface`; the root's nodes are moved before they straddle it.

    Returns
    -------
    TriSurface
        Patches ``"crown"`` (with the root exposed above the crest) and ``"root"``.
    """
    cut = split_surface(surface, crest, ("crown", "root"))
    even = remesh_surface(cut, {"crown": crown_size_mm, "root": root_size_mm})
    # Along the chords of the contour's triangles the new nodes leave a curved crest a little.
    root = np.unique(even.patch_triangles("root"))
    rim = np.unique(boundary_edges(even.patch_triangles("root")))
    points = even.points.copy()
    if onto is not None:
        points[root] = onto(points[root])
    points[rim] = onto_crest(points[rim], crest)
    points = straddling_nodes(replace(even, points=points), "root")
    points[rim] = onto_crest(points[rim], crest)
    return replace(even, points=points)


def mesh_tooth(
    surface: TriSurface,
    crest: Crest,
    thickness_mm: float | tuple[float, float, float] = 0.20,
    layers: int = 2,
    loose_rim: bool = False,
) -> TetMesh:
    """Fill a prepared tooth surface and grow the ligament around its root.

    Parameters
    ----------
    surface : TriSurface
        Closed, with the patches ``"crown"`` and ``"root"`` (see `prepare_surface`).
    crest : Crest
    thickness_mm : float or tuple of three float
        Thickness of the ligament, as the mean over its facets: uniform, or at the crest, at
        mid-root and at the apex.
    layers : int
    loose_rim : bool
        See `ligament_layer`.

    Returns
    -------
    TetMesh
        Conforming, regions ``"tooth"`` and ``"ligament"``. Facets ``"crown"`` (free surface of
        the tooth), ``"root"`` (between tooth and ligament), ``"socket"`` (between ligament and
        bone) and ``"rim"`` (free border of the ligament at the crest), facing outwards.

    Raises
    ------
    ValueError
        If the ligament does not fit or comes out below the gate of `geometry.quality`.
    """
    if isinstance(thickness_mm, int | float):
        thickness = np.full(len(surface.points), float(thickness_mm))
    else:
        thickness = thickness_profile(surface.points, crest, thickness_mm)
    ligament = ligament_layer(
        surface, thickness, layers, crest, loose_rim=loose_rim, eased=True, over_facets=True
    )
    assert_quality(ligament)  # before the costly filling
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
    if spec.crest_sides_mm is not None and spec.crest is not None:
        raise ValueError(f"tooth {number}: crest_sides_mm and crest; state one of them")
    if spec.crest is not None:
        return
    names = ("mesial", "distal", "buccal", "lingual")
    depths = {"crest_depth_mm": spec.crest_depth_mm}
    if spec.crest_sides_mm is not None:
        depths = {
            f"crest_sides_mm, {side}": depth
            for side, depth in zip(names, spec.crest_sides_mm, strict=True)
        }
    lengths = [root.length_mm for root in spec.dimensions.roots]
    shortest = min([spec.dimensions.root_length_mm, *lengths])
    for name, depth in depths.items():
        if not 0.0 <= depth < shortest:
            raise ValueError(
                f"tooth {number}: {name} is {depth}; it must lie from 0 (the cervix) to below "
                f"{shortest} (the shortest root's apex)"
            )
