"""Geometrically exact rod: finite rotations in space, extension and shear included.

Each node carries a rigid frame (position and section axes). An element's strain is the constant
twist that carries one frame to the next,

    ``ε = log(H_A⁻¹ H_B) / h − ε₀``,   ``σ = C ε``,   ``W = h/2 Σ εᵀ C ε``,

so a rigid motion strains nothing, an arc of a circle is exact, and there is no shear locking
(Simo 1985, CMAME 49:55–70 for the strains; Sonneville, Cardona & Brüls 2014, CMAME 268:451–474
for the frame-to-frame interpolation; both from memory). The stress varies within an element as
equilibrium with the passive strain asks, so C is that of the element (`element_law`), not
of the section.

Fourth-order accurate in h where the stress turns against the section as fast as in the passive
wire: small deflections of straight and bent wires in all directions, and large ones in a plane.
Of second order is the share that a large change of curvature has out of that plane.
The section law is linear elastic. Not valid for strains of more than a few percent or elements
that turn by more than 1 rad.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fem.rigid import ad, inverse_tangents, matvec, se3_exp, se3_log, skew

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Rod:
    """A wire cut into elements, with its stress-free strain and section law.

    Attributes
    ----------
    lengths_mm
        Element lengths h along the passive wire, (n,).
    passive_strain
        Strain ε₀ of the passive wire, (n, 6), 1 and rad/mm.
    stiffness
        Law C between mean strain and mean stress of each element, (n, 6, 6), N, N·mm and N·mm².
    """

    lengths_mm: Array
    passive_strain: Array
    stiffness: Array

    @property
    def n_elements(self) -> int:
        """Number of elements."""
        return len(self.lengths_mm)

    @property
    def direct_stiffness(self) -> Array:
        """Diagonal of the stiffness, (n, 6)."""
        return np.einsum("nii->ni", self.stiffness)


@dataclass(frozen=True)
class RodState:
    """Frames of the nodes.

    Attributes
    ----------
    points
        Positions (n + 1, 3), mm.
    axes
        Section axes as columns (n + 1, 3, 3): along the wire, width, height.
    """

    points: Array
    axes: Array

    def moved(self, twists: Array) -> RodState:
        """State after body-frame twists (n + 1, 6) applied at the nodes."""
        R, p = se3_exp(twists)
        points = self.points + matvec(self.axes, p)
        return replace(self, points=points, axes=self.axes @ R)


def passive_rod(points: Array, axes: Array, lengths_mm: Array, stiffness: Array) -> Rod:
    """Rod that is stress-free in the given shape.

    Parameters
    ----------
    points, axes
        Frames (n + 1, 3) and (n + 1, 3, 3) of the wire as bent.
    lengths_mm
        Arc length of each element, (n,).
    stiffness
        Section law diagonal, (6,) for one wire throughout.

    Raises
    ------
    ValueError
        If an element has no length or turns by more than 1 rad.
    """
    if np.any(lengths_mm <= 0):
        raise ValueError("rod element without length: give distinct points along the wire")
    relative = relative_twists(RodState(points, axes))
    turn = np.linalg.norm(relative[:, 3:], axis=1)
    if turn.max() > 1.0:
        raise ValueError(
            f"rod element {int(turn.argmax())} turns by {turn.max():.2f} rad: "
            "use more elements along the bend"
        )
    lengths = np.asarray(lengths_mm, dtype=float)
    law = element_law(np.asarray(stiffness, dtype=float), relative)
    return Rod(lengths, relative / lengths[:, None], law)


def internal_forces(rod: Rod, state: RodState) -> tuple[Array, Array]:
    """Internal forces at both ends of every element and their tangent.

    Returns
    -------
    forces
        (n, 12): body-frame (force, moment) at the first and the second node.
    tangent
        (n, 12, 12): derivative with respect to body-frame twists of both nodes. The geometric
        part is exact to the third power of the element's turn, enough for fast Newton steps.
    """
    twist = relative_twists(state)
    strain = twist / rod.lengths_mm[:, None] - rod.passive_strain
    stress = matvec(rod.stiffness, strain)
    return end_forces(twist, stress, rod.stiffness / rod.lengths_mm[:, None, None])


def end_forces(twist: Array, stress: Array, change: Array) -> tuple[Array, Array]:
    """Forces at both ends of elements that carry a mean stress, and their tangent.

    Parameters
    ----------
    twist, stress
        Twist and mean stress of each element, (n, 6).
    change
        Derivative of the stress by the twist, (n, 6, 6).

    Returns
    -------
    forces, tangent
        As in `internal_forces`.
    """
    back, ahead = inverse_tangents(twist)
    B = np.concatenate([-back, ahead], axis=2)
    B_T = np.swapaxes(B, 1, 2)
    A_T = np.swapaxes(ahead - back, 1, 2)  # ad(ζ)ᵀ
    S = _coadjoint(stress)
    second = (A_T @ S + _coadjoint(matvec(A_T, stress))) / 12
    geometric = np.concatenate([0.5 * S - second, 0.5 * S + second], axis=1)
    return matvec(B_T, stress), (B_T @ change + geometric) @ B


def assemble(forces: Array, tangent: Array) -> tuple[Array, sp.csc_matrix]:
    """Internal force (6(n + 1),) and tangent of the whole rod, body frame of each node.

    Parameters
    ----------
    forces, tangent
        Of the elements, as `internal_forces` gives them.
    """
    n = len(forces)
    dofs = 6 * np.arange(n)[:, None] + np.arange(12)
    size = 6 * (n + 1)
    total = np.zeros(size)
    np.add.at(total, dofs.ravel(), forces.ravel())
    rows, columns = np.repeat(dofs, 12, axis=1), np.tile(dofs, (1, 12))
    matrix = sp.csc_matrix((tangent.reshape(n, -1).ravel(), (rows.ravel(), columns.ravel())))
    return total, matrix


def section_resultants(rod: Rod, state: RodState) -> Array:
    """Section resultants at both ends of every element, (n, 2, 6): N, V2, V3, T, M2, M3.

    Taken from the end forces, which satisfy equilibrium, so a linear moment is met exactly at
    the nodes although the element's own strain is constant.
    """
    forces, _ = internal_forces(rod, state)
    ends = forces.reshape(-1, 2, 6)
    return ends * np.array([-1.0, 1.0])[None, :, None]


def strain_energy_Nmm(rod: Rod, state: RodState) -> float:
    """Elastic energy stored in the rod, N·mm."""
    strain = relative_twists(state) / rod.lengths_mm[:, None] - rod.passive_strain
    return float(0.5 * np.einsum("n,ni,nij,nj->", rod.lengths_mm, strain, rod.stiffness, strain))


def element_law(stiffness: Array, passive_twists: Array) -> Array:
    """Law C between mean strain and mean stress of each element, (n, 6, 6).

    In equilibrium the stress varies by ``σ' = ad(ε)ᵀ σ``: a force gives the moment a gradient, and
    on an arc force and moment turn against the section. With the mean σ̄ an element in its passive
    shape, twist ``ζ₀ = h ε₀``, carries ``σ(s) = σ̄ + s ad(ε₀)ᵀ σ̄ + …``; the quadratic part has no
    mean. The mean of the complementary energy ``σᵀ S⁻¹ σ / 2`` with the section law S then gives

        ``C⁻¹ = S⁻¹ + ad(ζ₀) S⁻¹ ad(ζ₀)ᵀ / 12 + O(h⁴)``

    (derived). For a straight element it is ``1/κGA + h²/(12 EI)`` in shear, the residual bending
    flexibility of MacNeal 1978 (Comput. Struct. 8:175–183, from memory), with which nodes are
    exact for small deflections, whatever the number of elements.

    Parameters
    ----------
    stiffness
        Section law diagonal, (6,).
    passive_twists
        ζ₀, (n, 6), mm and rad.
    """
    law = np.linalg.inv(np.diag(1 / stiffness) + turning_flexibility(stiffness, passive_twists))
    return np.asarray(0.5 * (law + np.swapaxes(law, 1, 2)))


def turning_flexibility(stiffness: Array, passive_twists: Array) -> Array:
    """What `element_law` adds to the section's flexibility, ``ad(ζ₀) S⁻¹ ad(ζ₀)ᵀ / 12``, (n, 6, 6).

    Parameters
    ----------
    stiffness, passive_twists
        As for `element_law`.
    """
    A = ad(passive_twists)
    return (A / stiffness) @ np.swapaxes(A, 1, 2) / 12


def relative_twists(state: RodState) -> Array:
    """Twist that carries the frame of each node to the next, (n, 6), mm and rad."""
    R_T = np.swapaxes(state.axes[:-1], 1, 2)
    dp = matvec(R_T, np.diff(state.points, axis=0))
    return se3_log(R_T @ state.axes[1:], dp)


def _coadjoint(stress: Array) -> Array:
    """Matrix S(σ) with ``ad(x)ᵀ σ = S(σ) x``."""
    out = np.zeros((*stress.shape, 6))
    force = skew(stress[..., :3])
    out[..., :3, 3:] = force
    out[..., 3:, :3] = force
    out[..., 3:, 3:] = skew(stress[..., 3:])
    return out
