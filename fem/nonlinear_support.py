"""A unit in bilinear ligaments under a given load, by Newton's method.

Unknown: the free displacements of every ligament and the coordinates x of the unit, six where its
teeth are one body (see `fem.unit`).

    free nodes:  ∫ Bᵀ σ dV = 0,    unit:  Σ Tᵀ Rᵀ ∫ Bᵀ σ dV + 𝐊_joint x = w

with R the rigid motions at a root about the tooth's own point and axes, T the motion of a tooth for
the coordinates of its unit, and w the load on them. Each step solves with the consistent
tangent; one factorisation a tooth serves the step and the six columns of R. The energy is convex,
so a step that raises it is halved and the method cannot stray.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.bilinear import BilinearLaw
from fem.blocks import part
from fem.solver import solve_spd
from fem.space import QuadraticSpace, dof_nodes, node_dofs
from geometry.mesh import TetMesh

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

_MAX_ITERATIONS = 60
_MAX_HALVINGS = 12


class NonlinearSupportError(RuntimeError):
    """Newton's method did not reach the stated residual."""


@dataclass(frozen=True)
class LoadedLigament:
    """A ligament under load.

    Attributes
    ----------
    stress
        Stress tensors at the quadrature points, (elements, points, 3, 3), MPa.
    volumes
        Volume each quadrature point stands for, mm³.
    largest_strain
        Largest scalar strain at any quadrature point.
    """

    stress: Array
    volumes: Array
    largest_strain: float


@dataclass(frozen=True)
class RestingUnit:
    """A unit at rest under a load.

    Attributes
    ----------
    motion
        Coordinates of the unit, (m,), mm and rad: its motion about its point where it is one body.
    stiffness
        Tangent of its coordinates, (m, m) (N/mm, N, N·mm).
    teeth
        The ligament of each tooth.
    relative_residual
        Out-of-balance force over the load.
    iterations
        Newton steps.
    """

    motion: Array
    stiffness: Array
    teeth: tuple[LoadedLigament, ...]
    relative_residual: float
    iterations: int


@dataclass(frozen=True)
class _Linearisation:
    """A ligament at one state, condensed to the six motions of its tooth.

    Attributes
    ----------
    unbalanced
        Largest force at a free node.
    reaction
        Wrench that holds the tooth, (6,).
    stiffness
        Condensed tangent, (6, 6).
    pull
        Change of the reaction when the free nodes come to rest, (6,).
    carried, at_rest
        Free displacements per tooth motion, (n, 6), and towards rest, (n,).
    """

    unbalanced: float
    reaction: Array
    stiffness: Array
    pull: Array
    carried: Array
    at_rest: Array


class BilinearLayer:
    """The ligament of one tooth.

    Parameters
    ----------
    layer
        Mesh of the ligament alone, with facets ``"root"`` and ``"socket"``.
    law
        The ligament's law.
    point
        Point for the tooth's motions and moments, (3,), mm.
    """

    def __init__(self, layer: TetMesh, law: BilinearLaw, point: Array) -> None:
        space = QuadraticSpace.on(layer.points, layer.tets)
        self.size = 3 * space.node_count
        self._law = law
        self._volumes = np.repeat(space.volumes[:, None] / 4, 4, axis=1)
        self._strain_operator = space.strain_operator
        self._dofs = node_dofs(space.elements.ravel()).reshape(-1, 30)
        self._pattern = _Pattern(space.elements, space.node_count)
        moved, fixed = (space.facet_nodes(layer.facets[name]) for name in ("root", "socket"))
        self._root = node_dofs(moved)
        held = np.concatenate([self._root, node_dofs(fixed)])
        self._free = np.setdiff1d(np.arange(self.size), held)
        self._free_nodes = dof_nodes(self._free)
        self._R = space.rigid_motions(np.asarray(point, dtype=float), moved).reshape(-1, 6)
        self._rigid = np.zeros((self.size, 6))
        self._rigid[self._root] = self._R

    def linearise(self, u: Array) -> _Linearisation:
        """Forces and condensed tangent at displacements u, (size,)."""
        stress, tangent = self._law.response(self._strain(u))
        forces = self._forces(stress)
        K = self._pattern.assemble(self._element_matrices(tangent))
        moved = K @ self._rigid
        to_root = moved[self._free]
        right = np.column_stack([-to_root, -forces[self._free]])
        solved = solve_spd(part(K, self._free_nodes, self._free_nodes), right).x
        own = self._R.T @ moved[self._root]
        return _Linearisation(
            unbalanced=float(np.abs(forces[self._free]).max()),
            reaction=self._R.T @ forces[self._root],
            stiffness=own + to_root.T @ solved[:, :6],
            pull=to_root.T @ solved[:, 6],
            carried=solved[:, :6],
            at_rest=solved[:, 6],
        )

    def step(self, linear: _Linearisation, dq: Array) -> Array:
        """Displacements (size,) of a Newton step in which the tooth moves by dq."""
        du = np.zeros(self.size)
        du[self._free] = linear.at_rest + linear.carried @ dq
        du[self._root] = self._R @ dq
        return du

    def energy(self, u: Array) -> float:
        """Stored energy, N·mm."""
        e = self._law.scalar_strain(self._strain(u))
        return float(np.sum(self._law.energy_MPa(e) * self._volumes))

    def loaded(self, u: Array) -> LoadedLigament:
        """Stress and largest strain."""
        strain = self._strain(u)
        stress, _ = self._law.response(strain)
        largest = float(self._law.scalar_strain(strain).max())
        return LoadedLigament(_tensors(stress), self._volumes, largest)

    def _strain(self, u: Array) -> Array:
        local = u[self._dofs]
        return np.asarray(np.einsum("eqvd,ed->eqv", self._strain_operator, local, optimize=True))

    def _forces(self, stress: Array) -> Array:
        weighted = stress * self._volumes[..., None]
        local = np.einsum("eqvd,eqv->ed", self._strain_operator, weighted, optimize=True)
        forces = np.bincount(self._dofs.ravel(), weights=local.ravel(), minlength=self.size)
        return np.asarray(forces, dtype=np.float64)

    def _element_matrices(self, tangent: Array) -> Array:
        elements, points, _, n = self._strain_operator.shape
        out = np.zeros((elements, n, n))
        for q in range(points):
            B = self._strain_operator[:, q]
            D = tangent[:, q] * self._volumes[:, q, None, None]
            out += B.transpose(0, 2, 1) @ (D @ B)
        return out


def unit_at_rest(
    layers: Sequence[BilinearLayer],
    transforms: Sequence[Array],
    load: Array,
    joint: Array | None = None,
    *,
    tolerance: float = 1e-8,
) -> RestingUnit:
    """Equilibrium of a unit on one or several bilinear ligaments.

    Parameters
    ----------
    layers
        One a tooth.
    transforms
        For each tooth the (6, m) matrix that gives its motion from the unit's coordinates.
    load
        Force (N) and moment (N·mm) on the unit's coordinates, (m,).
    joint
        Stiffness of what joins the teeth, (m, m); none for one body.
    tolerance
        Largest out-of-balance force, relative to the load's largest entry.

    Raises
    ------
    NonlinearSupportError
        If Newton's method does not reach the tolerance.
    """
    states = [np.zeros(layer.size) for layer in layers]
    joined = np.zeros((len(load), len(load))) if joint is None else joint
    q, scale = np.zeros(len(load)), max(float(np.abs(load).max()), 1e-300)
    for iteration in range(_MAX_ITERATIONS):
        linear = [layer.linearise(u) for layer, u in zip(layers, states, strict=True)]
        pairs = list(zip(transforms, linear, strict=True))
        stiffness = joined + np.sum([T.T @ tooth.stiffness @ T for T, tooth in pairs], axis=0)
        out = load - joined @ q - np.sum([T.T @ tooth.reaction for T, tooth in pairs], axis=0)
        unbalanced = max([float(np.abs(out).max()), *(tooth.unbalanced for tooth in linear)])
        if unbalanced < tolerance * scale:
            teeth = tuple(layer.loaded(u) for layer, u in zip(layers, states, strict=True))
            return RestingUnit(q, stiffness, teeth, unbalanced / scale, iteration)
        pull = np.sum([T.T @ tooth.pull for T, tooth in pairs], axis=0)
        dq = np.linalg.solve(stiffness, out - pull)
        steps = [layer.step(t, T @ dq) for layer, (T, t) in zip(layers, pairs, strict=True)]
        wire = float((load - joined @ q) @ dq), float(dq @ joined @ dq)
        share = _falling_share(layers, states, steps, *wire)
        states = [u + share * du for u, du in zip(states, steps, strict=True)]
        q = q + share * dq
    raise NonlinearSupportError(
        f"the bilinear ligament was solved only to {unbalanced / scale:.1e} of the load after "
        f"{_MAX_ITERATIONS} steps; refine the mesh or reduce the load"
    )


def _falling_share(
    layers: Sequence[BilinearLayer],
    states: list[Array],
    steps: list[Array],
    work: float,
    joint_work: float,
) -> float:
    """Share of a Newton step along which the potential energy falls.

    Along the whole step load and joint do `work` less half of `joint_work`, which grows with the
    square of the share.
    """
    triples = list(zip(layers, states, steps, strict=True))
    start = sum(layer.energy(u) for layer, u, _ in triples)
    share = 1.0
    for _ in range(_MAX_HALVINGS):
        stored = sum(layer.energy(u + share * du) for layer, u, du in triples)
        if stored - share * work + share**2 * joint_work / 2 <= start:
            break
        share /= 2
    return share


class _Pattern:
    """Where the 3×3 blocks of the elements go in the global matrix; found once."""

    def __init__(self, elements: Ints, size: int) -> None:
        keys = (elements[:, :, None] * size + elements[:, None, :]).ravel()
        unique, self._place = np.unique(keys, return_inverse=True)
        self._indices = (unique % size).astype(np.int32)
        self._indptr = np.searchsorted(unique, np.arange(size + 1) * size).astype(np.int32)

    def assemble(self, matrices: Array) -> sp.bsr_matrix:
        """Global matrix from element matrices (m, 30, 30)."""
        blocks = matrices.reshape(-1, 10, 3, 10, 3).transpose(2, 4, 0, 1, 3).reshape(9, -1)
        count = len(self._indices)
        sums = [np.bincount(self._place, weights=part, minlength=count) for part in blocks]
        data = np.stack(sums, axis=1).reshape(-1, 3, 3)
        return sp.bsr_matrix((data, self._indices, self._indptr))


def _tensors(stress: Array) -> Array:
    xx, yy, zz, yz, xz, xy = np.moveaxis(stress, -1, 0)
    rows = [np.stack([xx, xy, xz], -1), np.stack([xy, yy, yz], -1), np.stack([xz, yz, zz], -1)]
    return np.stack(rows, axis=-2)
