"""One gmsh session at a time: every option stated, one thread, closed whatever happens."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import gmsh

# One thread: with two, gmsh returns other coordinates from run to run.
_OPTIONS: dict[str, float] = {
    "General.Terminal": 0,
    "General.NumThreads": 1,
    "Mesh.MaxNumThreads1D": 1,
    "Mesh.MaxNumThreads2D": 1,
    "Mesh.MaxNumThreads3D": 1,
    "Mesh.RandomSeed": 1,
    "Mesh.RandomFactor": 1e-9,
    "Mesh.RandomFactor3D": 1e-12,
    "Mesh.ElementOrder": 1,
    "Mesh.Algorithm": 6,  # frontal Delaunay
    "Mesh.Algorithm3D": 10,  # HXT
    "Mesh.Optimize": 1,
    "Mesh.OptimizeNetgen": 0,
    "Mesh.OptimizeThreshold": 0.3,
    "Mesh.Smoothing": 5,
    "Mesh.MeshSizeFromPoints": 0,
    "Mesh.MeshSizeFromCurvature": 0,
    "Mesh.MeshSizeFromParametricPoints": 0,
    "Mesh.MeshSizeExtendFromBoundary": 1,
    "Mesh.MeshSizeFactor": 1.0,
    "Mesh.MeshSizeMin": 0.0,
    "Mesh.MeshSizeMax": 1e22,
}


@contextmanager
def gmsh_session(options: Mapping[str, float] | None = None) -> Iterator[None]:
    """Open gmsh with the project's options, then `options`; close it whatever happens.

    Parameters
    ----------
    options : mapping of str to float, optional
        gmsh option names and values that differ from the project's.

    Raises
    ------
    RuntimeError
        If a session is already open in this process.
    """
    if gmsh.isInitialized():
        raise RuntimeError("a gmsh session is already open in this process; close it first")
    gmsh.initialize(readConfigFiles=False, interruptible=False)
    try:
        for name, value in {**_OPTIONS, **(options or {})}.items():
            gmsh.option.setNumber(name, value)
        yield
    finally:
        gmsh.finalize()
