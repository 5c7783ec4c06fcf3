"""The alveolar crest of a scanned tooth, stated in the coordinates of the file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from geometry.crest import Plane
from geometry.mesh import TriSurface
from geometry.scan.frame import ScanFrame
from geometry.scan.rebuild import deviations
from geometry.scan.sections import sections

Floats = NDArray[np.float64]

COLUMNS = ("x_mm", "y_mm", "z_mm")
_FEWEST_POINTS = 8
_FARTHEST_MM = 1.5  # of the line from the surface of the tooth: bone over a ligament and a slip
_STEEPEST_DEG = 60.0  # of a plane against the long axis' normal
_STEP_MM = 0.25  # between places where the line is compared with the surface
_WIDEST_GAP = 3.0  # of the line's ends over its mean spacing


def local_plane(
    frame: ScanFrame, point_mm: tuple[float, ...], normal: tuple[float, ...], name: str = "crest"
) -> Plane:
    """Return a crest plane, given in the coordinates of the file, in the tooth's frame.

    Parameters
    ----------
    frame : ScanFrame
    point_mm, normal : tuple of three float
        A point of the plane, and a direction square to it of either sense.
    name : str
        For messages.

    Raises
    ------
    ValueError
        If the plane is steeper than 60° to the long axis' cross-section or does not cross the
        long axis between cervix and apex.
    """
    local = frame.frame.axes.T @ np.asarray(normal, dtype=np.float64)
    size = float(np.linalg.norm(local))
    if not (np.isfinite(size) and size > 0.0):
        raise ValueError(f"{name}: normal is {normal}; give three numbers that are not all zero")
    local *= np.sign(local[2]) / size if local[2] else 1.0 / size
    lean = float(np.degrees(np.arccos(np.clip(local[2], -1.0, 1.0))))
    if lean > _STEEPEST_DEG:
        raise ValueError(
            f"{name}: the plane's normal is {lean:.0f}° from the long axis ({_STEEPEST_DEG:g}° "
            "allowed); the normal of a crest points about to the crown"
        )
    m, b, o = (float(x) for x in frame.frame.to_tooth(np.asarray(point_mm, dtype=np.float64)))
    level = float(np.array([m, b, o]) @ local / local[2])
    _check_level(level, level, frame, name)
    return Plane((m, b, o), (float(local[0]), float(local[1]), float(local[2])))


def read_crest_line(path: Path) -> Floats:
    """Read a drawn crest from a CSV file with the columns x_mm, y_mm and z_mm.

    Returns
    -------
    (n, 3) array
        In the coordinates of the scan's file, mm, in the order of the rows.

    Raises
    ------
    ValueError
        If the file is missing, lacks a column or holds something that is no number.
    """
    if not path.is_file():
        raise ValueError(f"{path}: there is no such file; correct the path")
    try:
        table = pd.read_csv(path, comment="#", skipinitialspace=True)
    except (pd.errors.ParserError, pd.errors.EmptyDataError, UnicodeDecodeError) as error:
        raise ValueError(
            f"{path}: cannot be read as a table; write {','.join(COLUMNS)} and a row a point"
        ) from error
    missing = [column for column in COLUMNS if column not in table.columns]
    if missing:
        raise ValueError(
            f"{path}: lacks the column {', '.join(missing)}; the first row must name "
            f"{','.join(COLUMNS)}"
        )
    numbers = table[list(COLUMNS)].apply(pd.to_numeric, errors="coerce").to_numpy(dtype=float)
    wrong = np.flatnonzero(~np.isfinite(numbers).all(axis=1))
    if len(wrong):
        raise ValueError(f"{path}: point {wrong[0] + 1} is not three numbers; correct the row")
    return np.asarray(numbers)


def local_crest_line(
    surface: TriSurface, frame: ScanFrame, line_mm: Floats, name: str = "crest"
) -> Floats:
    """Return a drawn crest in the tooth's frame, having seen that it goes round the root.

    Parameters
    ----------
    surface : TriSurface
        The mended scan, in the coordinates of the file.
    frame : ScanFrame
    line_mm : (n, 3) array
        Points in order around the tooth, in the coordinates of the file; the first may be
        repeated at the end.
    name : str
        For messages, as of the file it was read from.

    Returns
    -------
    (n, 3) array
        In the tooth's frame, the first point not repeated: as `geometry.crest` takes it.

    Raises
    ------
    ValueError
        If there are fewer than 8 points, the line is open, leaves the surface by more than
        1.5 mm, lies above the cervix or below the apex, or does not go once round the root.
    """
    line = np.asarray(line_mm, dtype=np.float64)
    repeated = len(line) > 1 and bool(np.allclose(line[0], line[-1], atol=1e-6))
    line = line[:-1] if repeated else line
    if len(line) < _FEWEST_POINTS:
        raise ValueError(
            f"{name}: {len(line)} points are too few for a crest; draw {_FEWEST_POINTS} or more"
        )
    steps = np.linalg.norm(np.diff(line, axis=0), axis=1)
    gap = float(np.linalg.norm(line[0] - line[-1]))
    if gap > _WIDEST_GAP * float(steps.mean()):
        raise ValueError(
            f"{name}: the line is open, its ends are {gap:.1f} mm apart; draw it all round the "
            "tooth, or repeat the first point at the end"
        )
    apart = np.abs(deviations(_dense(line), surface))
    if apart.max() > _FARTHEST_MM:
        raise ValueError(
            f"{name}: the line lies up to {apart.max():.1f} mm from the tooth's surface "
            f"({_FARTHEST_MM:g} mm allowed); give it in mm, in the coordinates of the scan's file"
        )
    local = frame.frame.to_tooth(line)
    _check_level(float(local[:, 2].mean()), float(local[:, 2].min()), frame, name)
    _check_round(surface, frame, local, name)
    return local


def _dense(line: Floats) -> Floats:
    """Return places along a closed line, no farther apart than a quarter of a millimetre."""
    end = np.roll(line, -1, axis=0)
    pieces = np.maximum(np.ceil(np.linalg.norm(end - line, axis=1) / _STEP_MM), 1).astype(int)
    return np.vstack(
        [
            a + np.linspace(0.0, 1.0, count, endpoint=False)[:, None] * (b - a)
            for a, b, count in zip(line, end, pieces, strict=True)
        ]
    )


def _check_level(mean_mm: float, lowest_mm: float, frame: ScanFrame, name: str) -> None:
    if mean_mm > 0.0 or lowest_mm < -frame.root_length_mm:
        where = "above the cervix" if mean_mm > 0.0 else "below the apex"
        raise ValueError(
            f"{name}: it lies {where}, {mean_mm:.1f} mm from the cervix along the long axis; the "
            f"crest must lie from 0 to {-frame.root_length_mm:.1f} mm, in the coordinates of the "
            "scan's file"
        )


def _check_round(surface: TriSurface, frame: ScanFrame, local: Floats, name: str) -> None:
    """See that the line goes once round the section of the root at its level."""
    axis = frame.frame.axes[:, 2]
    level = float(local[:, 2].mean()) + float(frame.frame.origin @ axis)
    centre = frame.frame.to_tooth(sections(surface, axis, np.array([level])).centre[0])
    m, b = (local - centre)[:, :2].T
    angle = np.arctan2(b, m)
    turns = np.diff(np.append(angle, angle[0]))
    once = abs(float((turns - 2.0 * np.pi * np.round(turns / (2.0 * np.pi))).sum())) / (2.0 * np.pi)
    if round(once) != 1:
        raise ValueError(
            f"{name}: the line goes {round(once)} times round the root; it must go round once, "
            "its points in order"
        )
