"""Reading the triangles of a scan from a file, and seeing that the file is whole."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np
import pyvista as pv
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SUFFIXES = (".stl", ".ply", ".vtp")


def read_triangles(path: Path) -> tuple[Floats, Ints]:
    """Return the nodes (n, 3) and triangles (k, 3) of an STL, PLY or VTP file.

    Raises
    ------
    ValueError
        If the file is missing, of another kind, cut short or cannot be read.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise ValueError(
            f"{path}: a scan must be a file {', '.join(SUFFIXES)}; export it as one of these"
        )
    if not path.is_file():
        raise ValueError(f"{path}: there is no such file; correct the path")
    _assert_whole(path)
    try:
        return _read(path)
    except (Exception, SystemExit) as error:  # meshio leaves the program on some files
        raise ValueError(
            f"{path}: cannot be read as a surface of triangles; export the scan anew "
            f"({str(error).splitlines()[0] if str(error) else type(error).__name__})"
        ) from error


def _read(path: Path) -> tuple[Floats, Ints]:
    """Return nodes and triangles of a file."""
    if path.suffix.lower() == ".ply":  # VTK's reader does not survive half a file
        read = meshio.read(path, "ply")
        parts = [read.get_cells_type("triangle")]
        quads = read.get_cells_type("quad")
        if len(quads):
            parts += [quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]]
        triangles = np.vstack([part.reshape(-1, 3) for part in parts])
        return read.points.astype(np.float64), triangles.astype(np.int64)
    with pv.VtkErrorCatcher(raise_errors=True):
        mesh = pv.read(path).triangulate()
    return np.asarray(mesh.points, dtype=np.float64), mesh.regular_faces.astype(np.int64)


def _assert_whole(path: Path) -> None:
    """Refuse a file that is cut short or of another kind than its name says.

    VTK's readers pass over missing triangles of STL in silence and do not survive half a VTP.
    """
    data, kind = path.read_bytes(), path.suffix.lower()
    if kind == ".vtp":
        whole = b"<VTKFile" in data[:1000] and b"</VTKFile>" in data[-100:]
    elif kind == ".ply":
        whole = data[:3] == b"ply" and b"end_header" in data[:100_000]
    elif data[:5] == b"solid" and b"facet" in data[:1000]:
        whole = b"endsolid" in data[-1000:]
    else:
        whole = len(data) >= 84 + 50 * int.from_bytes(data[80:84], "little") > 84
    if not whole:
        raise ValueError(
            f"{path}: not a whole {kind[1:].upper()} file, cut short or of another kind; export or "
            "copy it anew"
        )
