"""Scanned teeth: reading a surface, seeing that it can be a tooth, and mending it.

Scans come in the wrong unit, inside out, with holes, loose crumbs and walls that cross. Whatever
is done to a surface is said in a report; what cannot be mended is refused with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyvista as pv
from numpy.typing import NDArray

from geometry.mesh import TriSurface
from geometry.scan.file import read_triangles
from geometry.scan.rebuild import Rebuilt, deviations, rebuild
from geometry.scan.repair import (
    Repairs,
    facing_outwards,
    main_piece,
    sound_triangles,
    without_holes,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "inch": 25.4, "m": 1000.0, "um": 1e-3}

# Whole teeth, crown and root: the shortest to the longest and the narrowest to the widest of the
# published means (Wheeler, Table 1-1: 19 to 27 mm long, 5 to 11 mm wide), with a third more on
# either side. The third is common practice, no source.
_LENGTHS_MM = (12.0, 36.0)
_WIDTHS_MM = (3.3, 15.0)
# 95 % of the scan's nodes must lie nearer to the mended surface. Common practice: twice this is
# the width of a ligament, whose stress the surface of the root decides.
_ROUGHEST_MM = 0.10
_SPACINGS_MM = (0.1, 0.5)


@dataclass(frozen=True)
class ScanReport:
    """What a scan was and what was done to it.

    Parameters
    ----------
    unit : str
        Length unit the file was taken to be in.
    length_mm, width_mm : float
        Extent along the longest principal axis of its nodes, and the wider one across.
    triangles : int
        As read, without those of no area and second copies.
    duplicates_removed, pieces_removed, cavities_removed, holes_filled, triangles_turned : int
        What was mended. Pieces are loose crumbs outside, cavities are shells inside, as of pulp.
    widest_hole_mm : float
        Mean diameter of the widest hole filled, 0 where there was none.
    overlap_mm3 : float
        Volume that the surface enclosed more than once or from its wrong side, where its walls
        cross; 0 where they do not.
    shared_edges : int
        Edges where more than two triangles met, as where walls touch.
    tunnels : int
        Holes through the mended tooth from side to side, as between roots that join again.
    spacing_mm : float
        Grid on which the surface was rebuilt.
    deviation_p95_mm, deviation_max_mm : float
        Distance of the scan's nodes from the mended surface: largest of 95 % of them, and of all.
    notes : tuple of str
        The same in sentences, empty where the scan was sound.
    """

    unit: str
    length_mm: float
    width_mm: float
    triangles: int
    duplicates_removed: int
    pieces_removed: int
    cavities_removed: int
    holes_filled: int
    widest_hole_mm: float
    triangles_turned: int
    overlap_mm3: float
    shared_edges: int
    tunnels: int
    spacing_mm: float
    deviation_p95_mm: float
    deviation_max_mm: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class MendedScan:
    """A closed surface made from a scan.

    Parameters
    ----------
    surface : TriSurface
        One patch, ``"tooth"``, in mm in the coordinates of the file, facing outwards.
    report : ScanReport
    nodes : (n, 3) array
        Nodes of the scan itself, in mm in the coordinates of the file, without walls that lay
        inside.
    deviation_mm : (n,) array
        Their distance from `surface`.
    name : str
        For messages.
    """

    surface: TriSurface
    report: ScanReport
    nodes: Floats
    deviation_mm: Floats
    name: str


def read_scan(path: Path, unit: str | None = None, spacing_mm: float = 0.25) -> MendedScan:
    """Read a scanned tooth from STL, PLY or VTP and mend it.

    Parameters
    ----------
    path : Path
    unit, spacing_mm
        See `mend_scan`.

    Raises
    ------
    ValueError
        If the file is of another kind, cut short or cannot be read, or as `mend_scan` does.
    """
    points, triangles = read_triangles(path)
    return mend_scan(points, triangles, unit, spacing_mm, str(path))


def mend_scan(
    points: Floats,
    triangles: Ints,
    unit: str | None = None,
    spacing_mm: float = 0.25,
    name: str = "scan",
) -> MendedScan:
    """Make a closed surface, free of crossings, from a scan.

    Loose crumbs and inner shells are left out, holes filled, triangles turned outwards, and the
    surface rebuilt as the contour of its signed distance on a grid, which also joins walls that
    cross. Edges sharper than the grid are rounded, and gaps narrower than it may close.

    Parameters
    ----------
    points : (n, 3) array
    triangles : (k, 3) array of int
    unit : str, optional
        ``"mm"``, ``"cm"``, ``"inch"``, ``"m"`` or ``"um"``; judged from the length if left out.
    spacing_mm : float
        Of the grid, 0.1 to 0.5.
    name : str
        Of the scan, for messages.

    Raises
    ------
    ValueError
        If coordinates are not finite, the size is not that of a tooth in any or in more than one
        unit, there are several pieces of some size, a hole is too wide, or the surface is too
        rough or has no clear inside.
    """
    if not _SPACINGS_MM[0] <= spacing_mm <= _SPACINGS_MM[1]:
        raise ValueError(
            f"{name}: spacing_mm is {spacing_mm}; choose {_SPACINGS_MM[0]} to {_SPACINGS_MM[1]}"
        )
    repairs = Repairs(name)
    mesh = sound_triangles(points, triangles, repairs)
    mesh = main_piece(mesh, repairs)
    unit = _unit(mesh, unit, name)
    mesh.points = np.asarray(mesh.points, dtype=np.float64) * MM_PER_UNIT[unit]
    length, width = _extents(np.asarray(mesh.points))
    mesh = facing_outwards(without_holes(mesh, repairs), repairs)
    rebuilt = rebuild(mesh, spacing_mm, name)
    nodes = np.asarray(mesh.points, dtype=np.float64)
    apart = deviations(nodes, rebuilt.surface)
    if rebuilt.overlap_mm3 > 0.0:  # walls buried in the joined tooth are no part of its surface
        nodes, apart = nodes[apart > -2.0 * spacing_mm], apart[apart > -2.0 * spacing_mm]
    apart = np.abs(apart)
    p95, largest = float(np.quantile(apart, 0.95)), float(apart.max())
    if p95 > _ROUGHEST_MM:
        raise ValueError(
            f"{name}: too rough or folded: 5 % of its nodes lie more than {p95:.2f} mm from a "
            f"smooth closed surface through it ({_ROUGHEST_MM:g} mm allowed); smooth it first"
        )
    report = ScanReport(
        unit=unit,
        length_mm=length,
        width_mm=width,
        triangles=repairs.triangles,
        duplicates_removed=repairs.duplicates,
        pieces_removed=repairs.crumbs,
        cavities_removed=repairs.cavities,
        holes_filled=len(repairs.hole_widths_mm),
        widest_hole_mm=max(repairs.hole_widths_mm, default=0.0),
        triangles_turned=repairs.turned,
        overlap_mm3=rebuilt.overlap_mm3,
        shared_edges=repairs.shared_edges,
        tunnels=rebuilt.tunnels,
        spacing_mm=spacing_mm,
        deviation_p95_mm=p95,
        deviation_max_mm=largest,
        notes=_notes(unit, repairs, rebuilt, largest),
    )
    return MendedScan(rebuilt.surface, report, nodes, apart, name)


def _notes(unit: str, repairs: Repairs, rebuilt: Rebuilt, largest_mm: float) -> tuple[str, ...]:
    """Say in sentences what was done; nothing for what was sound."""
    widths = repairs.hole_widths_mm
    said = {
        f"Taken to be in {unit} from its length and scaled to mm.": unit != "mm",
        f"{repairs.duplicates} second copies of triangles left out.": repairs.duplicates,
        f"{repairs.crumbs} loose pieces left out.": repairs.crumbs,
        f"{repairs.cavities} shells inside the tooth left out.": repairs.cavities,
        f"{len(widths)} holes filled, up to {max(widths, default=0.0):.2f} mm wide.": widths,
        f"{repairs.turned} triangles turned to face outwards.": repairs.turned,
        f"Walls touched along {repairs.shared_edges} edges; joined.": repairs.shared_edges,
        f"Walls crossed over {rebuilt.overlap_mm3:.2f} mm³; joined.": rebuilt.overlap_mm3 > 0.0,
        f"{rebuilt.tunnels} tunnels lead through the tooth.": rebuilt.tunnels,
        f"Some nodes lie up to {largest_mm:.2f} mm from the mended surface.": largest_mm > 0.25,
    }
    return tuple(sentence for sentence, holds in said.items() if holds)


def _unit(mesh: pv.PolyData, unit: str | None, name: str) -> str:
    """Return the stated unit, or the only one in which this has the size of a tooth."""
    length, width = _extents(np.asarray(mesh.points))
    fitting = [
        u
        for u, mm in MM_PER_UNIT.items()
        if _LENGTHS_MM[0] <= length * mm <= _LENGTHS_MM[1]
        and _WIDTHS_MM[0] <= width * mm <= _WIDTHS_MM[1]
    ]
    wanted = (
        f"a tooth with its root is {_LENGTHS_MM[0]:g} to {_LENGTHS_MM[1]:g} mm long and "
        f"{_WIDTHS_MM[0]:g} to {_WIDTHS_MM[1]:g} mm wide"
    )
    size = f"{length:.4g} long and {width:.4g} wide"
    if unit is not None:
        if unit not in MM_PER_UNIT:
            raise ValueError(f"{name}: unit {unit!r} is unknown; choose {', '.join(MM_PER_UNIT)}")
        if unit not in fitting:
            other = "check the file"
            if fitting:
                other = f"it would be one in {' or '.join(fitting)}, so state that"
            raise ValueError(f"{name}: {size} in {unit}, but {wanted}; {other}")
        return unit
    if not fitting:
        raise ValueError(
            f"{name}: {size} in the file's unit, but {wanted}; give one whole tooth with its root"
        )
    if "mm" not in fitting and len(fitting) > 1:
        raise ValueError(
            f"{name}: {size}, which fits a tooth in {' and in '.join(fitting)}; state the unit"
        )
    return "mm" if "mm" in fitting else fitting[0]


def _extents(points: Floats) -> tuple[float, float]:
    """Return the largest and the second extent along the principal axes."""
    centred = points - points.mean(axis=0)
    axes = np.linalg.svd(centred, full_matrices=False)[2]
    _, width, length = np.sort(np.ptp(centred @ axes.T, axis=0))
    return float(length), float(width)
