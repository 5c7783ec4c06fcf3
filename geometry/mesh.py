"""Plain records of surfaces and volume meshes, and their way to and from a file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import meshio
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class TriSurface:
    """A surface of triangles, sorted into named patches.

    Parameters
    ----------
    points : (n, 3) array
        Coordinates in mm.
    triangles : (k, 3) array of int
        Node numbers, anticlockwise seen from outside.
    patch : (k,) array of int
        Index of each triangle's patch in `patch_names`.
    patch_names : tuple of str
    """

    points: Floats
    triangles: Ints
    patch: Ints
    patch_names: tuple[str, ...]

    @classmethod
    def one_patch(cls, points: Floats, triangles: Ints, name: str) -> TriSurface:
        """Return a surface whose triangles all belong to the patch `name`."""
        return cls(points, triangles, np.zeros(len(triangles), dtype=np.int64), (name,))

    def patch_triangles(self, name: str) -> Ints:
        """Return the triangles (k, 3) of a patch."""
        return self.triangles[self.patch == _index_of(name, self.patch_names, "patch")]

    def area_mm2(self, name: str | None = None) -> float:
        """Return the area of one patch, or of all."""
        triangles = self.triangles if name is None else self.patch_triangles(name)
        return float(np.linalg.norm(area_vectors(self.points, triangles), axis=1).sum())

    def enclosed_volume_mm3(self) -> float:
        """Return the enclosed volume: positive when the triangles face outwards."""
        corners = self.points[self.triangles]
        return float(np.linalg.det(corners).sum() / 6.0)

    def is_closed(self) -> bool:
        """Return whether each directed edge meets its opposite exactly once."""
        return len(boundary_edges(self.triangles)) == 0

    def oriented_outwards(self) -> TriSurface:
        """Return the same closed surface with its triangles facing outwards."""
        if self.enclosed_volume_mm3() >= 0.0:
            return self
        return replace(self, triangles=self.triangles[:, ::-1].copy())


@dataclass(frozen=True)
class TetMesh:
    """A mesh of straight-sided tetrahedra with named regions and facets.

    Parameters
    ----------
    points : (n, 3) array
        Coordinates in mm.
    tets : (m, 4) array of int
        Node numbers, ordered so that every volume is positive.
    region : (m,) array of int
        Index of each tetrahedron's region in `region_names`.
    region_names : tuple of str
    facets : mapping of str to (k, 3) array of int
        Named sets of triangles, each a face of a tetrahedron.
    """

    points: Floats
    tets: Ints
    region: Ints
    region_names: tuple[str, ...]
    facets: Mapping[str, Ints]

    def region_tets(self, name: str) -> Ints:
        """Return the tetrahedra (m, 4) of a region."""
        return self.tets[self.region == _index_of(name, self.region_names, "region")]

    def volumes_mm3(self) -> Floats:
        """Return the signed volume (m,) of every tetrahedron."""
        return tet_volumes(self.points, self.tets)

    def region_volume_mm3(self, name: str) -> float:
        """Return the volume of a region."""
        return float(tet_volumes(self.points, self.region_tets(name)).sum())

    def edge_count(self) -> int:
        """Return the number of different edges."""
        ends = np.sort(self.tets, axis=1)[:, list(combinations(range(4), 2))]
        return len(np.unique(ends[..., 0] * len(self.points) + ends[..., 1]))

    def submesh(self, names: Iterable[str]) -> TetMesh:
        """Return the mesh of some regions, nodes renumbered, keeping the facets that survive.

        Raises
        ------
        ValueError
            If a region is unknown.
        """
        kept_names = tuple(names)
        indices = [_index_of(name, self.region_names, "region") for name in kept_names]
        kept = np.isin(self.region, indices)
        new_index = np.full(len(self.region_names), -1)
        new_index[indices] = np.arange(len(indices))
        used, tets = np.unique(self.tets[kept], return_inverse=True)
        number = np.full(len(self.points), -1)
        number[used] = np.arange(len(used))
        tets = tets.reshape(-1, 4)
        faces = _face_keys(tet_faces(tets), len(used))
        facets = {}
        for name, triangles in self.facets.items():
            renumbered = number[triangles]
            renumbered = renumbered[(renumbered >= 0).all(axis=1)]
            renumbered = renumbered[np.isin(_face_keys(renumbered, len(used)), faces)]
            if len(renumbered):
                facets[name] = renumbered
        return TetMesh(self.points[used], tets, new_index[self.region[kept]], kept_names, facets)

    def write_vtu(self, path: Path) -> None:
        """Write the mesh as VTU, tetrahedra first and then the facets' triangles.

        Cell data ``region`` is the index of a tetrahedron's region, −1 on triangles; ``facet`` is
        the index of a triangle's facet set, −1 on tetrahedra. Their names are the rest of the
        names of the masks ``region:…`` and ``facet:…``, in order of index. A triangle of two sets
        is written twice.
        """
        names = tuple(self.facets)
        sets = [np.asarray(self.facets[name]).reshape(-1, 3) for name in names]
        triangles = np.concatenate([np.empty((0, 3), dtype=np.int64), *sets])
        marks = np.repeat(np.arange(len(names)), [len(rows) for rows in sets])
        indices = {
            "region": [self.region, np.full(len(triangles), -1)],
            "facet": [np.full(len(self.tets), -1), marks],
        }
        masks = {
            f"{kind}:{name}": [(part == index).astype(np.uint8) for part in indices[kind]]
            for kind, listed in (("region", self.region_names), ("facet", names))
            for index, name in enumerate(listed)
        }
        cells = [("tetra", self.tets), ("triangle", triangles)]
        meshio.Mesh(self.points, cells, cell_data={**indices, **masks}).write(path, "vtu")

    @classmethod
    def read_vtu(cls, path: Path) -> TetMesh:
        """Read a mesh that `write_vtu` wrote.

        Raises
        ------
        ValueError
            If the file lacks the tetrahedra, the triangles or the cell data.
        """
        read = meshio.read(path, "vtu")
        cells = {block.type: block.data.astype(np.int64) for block in read.cells}
        kinds = [block.type for block in read.cells]
        if not {"region", "facet"} <= set(read.cell_data) or "tetra" not in kinds:
            raise ValueError(
                f"{path}: not a mesh of this project: it needs tetrahedra and the cell data "
                "'region' and 'facet'; write it with TetMesh.write_vtu"
            )
        data = {key: dict(zip(kinds, read.cell_data[key], strict=True)) for key in read.cell_data}
        triangles = cells.get("triangle", np.empty((0, 3), dtype=np.int64))
        marks = data["facet"].get("triangle", np.empty(0, dtype=np.int64))
        facets = {
            name: triangles[marks == index] for index, name in enumerate(_listed(data, "facet:"))
        }
        region = data["region"]["tetra"].astype(np.int64)
        names = _listed(data, "region:")
        return cls(read.points.astype(np.float64), cells["tetra"], region, names, facets)


def area_vectors(points: Floats, triangles: Ints) -> Floats:
    """Return the area vector (k, 3) of each triangle: its normal times its area, mm²."""
    a, b, c = points[triangles].transpose(1, 0, 2)
    return 0.5 * np.cross(b - a, c - a)


def tet_volumes(points: Floats, tets: Ints) -> Floats:
    """Return the signed volume (m,) of each tetrahedron, mm³."""
    corners = points[tets]
    return np.linalg.det(corners[:, 1:] - corners[:, :1]) / 6.0


def boundary_edges(triangles: Ints) -> Ints:
    """Return the directed edges (k, 2) that meet no opposite edge, or meet more than one.

    On an oriented, closed, two-dimensional surface there are none.
    """
    edges = triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    size = int(triangles.max(initial=0)) + 1
    keys, opposite = edges @ (size, 1), edges @ (1, size)
    unique, counts = np.unique(keys, return_counts=True)
    matched = np.isin(opposite, unique[counts == 1]) & np.isin(keys, unique[counts == 1])
    return edges[~matched]


def border_loops(triangles: Ints) -> list[Ints]:
    """Return the closed loops of border nodes, each from its lowest number on.

    Raises
    ------
    ValueError
        If two loops touch, or there is none.
    """
    edges = boundary_edges(triangles)
    following = dict(edges.tolist())
    if len(following) != len(edges) or not len(edges):
        raise ValueError("a piece of a patch has no border, or touches itself in a single node")
    loops = []
    while following:
        node = min(following)
        loop = []
        while node in following:
            loop.append(node)
            node = following.pop(node)
        loops.append(np.array(loop))
    return loops


def tet_faces(tets: Ints) -> Ints:
    """Return the faces (4m, 3) of the tetrahedra, each facing outwards."""
    return tets[:, [[1, 2, 3], [0, 3, 2], [0, 1, 3], [0, 2, 1]]].reshape(-1, 3)


def lone_faces(tets: Ints) -> Ints:
    """Return the faces (k, 3) that belong to one tetrahedron only, facing outwards."""
    faces = tet_faces(tets)
    keys = _face_keys(faces, int(tets.max(initial=0)) + 1)
    unique, counts = np.unique(keys, return_counts=True)
    return faces[np.isin(keys, unique[counts == 1])]


def _listed(names: Iterable[str], start: str) -> tuple[str, ...]:
    """Return the rest of those names that begin with `start`."""
    return tuple(name.removeprefix(start) for name in names if name.startswith(start))


def _face_keys(triangles: Ints, size: int) -> Ints:
    """Return one number a triangle, the same for any order of its nodes."""
    return np.sort(triangles, axis=1).astype(np.int64) @ np.array([size * size, size, 1])


def _index_of(name: str, names: tuple[str, ...], kind: str) -> int:
    if name not in names:
        raise ValueError(f"{kind} {name!r} is not in this mesh; it has {', '.join(names)}")
    return names.index(name)
