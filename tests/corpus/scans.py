"""Scans of a tooth, spoilt in the ways in which scans are."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import numpy as np
import pyvista as pv

from geometry.anatomy import tooth_dimensions
from geometry.tooth import tooth_surface
from workflow.case_checks import MOST_SCAN_BYTES

NAME = "tooth.stl"


@cache
def _tooth() -> pv.PolyData:
    surface = tooth_surface(tooth_dimensions(37), 0.5)
    return pv.PolyData.from_regular_faces(surface.points, surface.triangles.astype(int))


def made_scan(way: str, folder: Path) -> str:
    """Write a spoilt scan into a folder; its path as a case would name it."""
    path, mesh = folder / NAME, _tooth().copy()
    if way in {"none", "obj"}:
        return NAME if way == "none" else _written(folder / "tooth.obj", b"v 0 0 0\n")
    if way == "text":
        return _written(path, b"The patient was seen on Monday.\n" * 20)
    if way == "huge":
        path.touch()
        os.truncate(path, MOST_SCAN_BYTES * 5)
        return NAME
    if way in {"dots", "link"}:
        outside = folder.parent / "outside.stl"
        mesh.save(outside)
        if way == "dots":
            return "../outside.stl"
        path.symlink_to(outside)
        return NAME
    if way == "crown":
        mesh = mesh.clip("z", origin=(0.0, 0.0, 0.0), invert=False).extract_surface()
    scale = {"metres": 1e-3, "jaw": 5.0}.get(way, 1.0)
    mesh.points = np.asarray(mesh.points) * scale
    if way == "nan":
        mesh.points[7] = np.nan
    mesh.save(path)
    if way == "cut":
        raw = path.read_bytes()
        path.write_bytes(raw[: 2 * len(raw) // 3])
    return NAME


def _written(path: Path, raw: bytes) -> str:
    path.write_bytes(raw)
    return path.name
