"""Geometrically exact rod: finite rotations in space, extension and shear included.

Each node carries a rigid frame (position and section axes). An element's strain is the constant
twist that carries one frame to the next,

    ``ε = log(H_A⁻¹ H_B) / h − ε₀``,   ``σ = C ε``,   ``W = h/2 Σ εᵀ C ε``,

so a rigid motion strains nothing, an arc of a circle is exact, and there is no shear locking
(Simo 1985, CMAME 49:55–70 for the strains; Sonneville, Cardona & Brüls 2014, CMAME 268:451–474
for the frame-to-frame interpolation; both from memory). With the residual bending below it is
fourth-order accurate in h for wires that hardly shear or stretch. The section law is linear
elastic. Not valid for strains of more than a few percent or elements that turn by more than 1 rad.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.rigid import ad, inverse_tangent, se3_exp, se3_log, skew

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
        Section law, diagonal, (n, 6), N and N·mm².
    """

    lengths_mm: Array
    passive_strain: Array
    stiffness: Array

    @property
    def n_elements(self) -> int:
        """Number of elements."""
        return len(self.lengths_mm)


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
        points = self.points + np.einsum("nij,nj->ni", self.axes, p)
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
    relative = _relative_twists(RodState(points, axes))
    turn = np.linalg.norm(relative[:, 3:], axis=1)
    if turn.max() > 1.0:
        raise ValueError(
            f"rod element {int(turn.argmax())} turns by {turn.max():.2f} rad: "
            "use more elements along the bend"
        )
    lengths = np.asarray(lengths_mm, dtype=float)
    law = _with_residual_bending(np.asarray(stiffness, dtype=float), lengths)
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
    twist = _relative_twists(state)
    stress = _stress(rod, twist)
    B = np.concatenate([-inverse_tangent(-twist), inverse_tangent(twist)], axis=2)
    forces = np.einsum("nij,ni->nj", B, stress)

    material = np.einsum(
        "nia,ni,nib->nab", B, rod.stiffness / rod.lengths_mm[:, None], B, optimize=True
    )
    A_T = np.swapaxes(ad(twist), 1, 2)
    S = _coadjoint(stress)
    second = (A_T @ S + _coadjoint(np.einsum("nij,nj->ni", A_T, stress))) / 12
    geometric = np.concatenate([0.5 * S - second, 0.5 * S + second], axis=1) @ B
    return forces, material + geometric


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
    strain = _relative_twists(state) / rod.lengths_mm[:, None] - rod.passive_strain
    return float(0.5 * np.sum(rod.lengths_mm[:, None] * rod.stiffness * strain**2))


def _with_residual_bending(stiffness: Array, lengths: Array) -> Array:
    """Section law of each element, (n, 6), softened in shear by the bending it cannot show.

    A moment that varies along the element by V h bends it by V² h³/(24 EI) more than its constant
    curvature can, which is a shear compliance: ``1/κGA + h²/(12 EI)`` (residual bending
    flexibility, MacNeal 1978, Comput. Struct. 8:175–183, from memory). Nodes of a straight wire
    are then exact for small deflections, whatever the number of elements.
    """
    law = np.tile(stiffness, (len(lengths), 1))
    for shear, bending in ((1, 5), (2, 4)):
        law[:, shear] = 1 / (1 / law[:, shear] + lengths**2 / (12 * law[:, bending]))
    return law


def _relative_twists(state: RodState) -> Array:
    R_T = np.swapaxes(state.axes[:-1], 1, 2)
    dp = np.einsum("nij,nj->ni", R_T, np.diff(state.points, axis=0))
    return se3_log(R_T @ state.axes[1:], dp)


def _stress(rod: Rod, twist: Array) -> Array:
    return rod.stiffness * (twist / rod.lengths_mm[:, None] - rod.passive_strain)


def _coadjoint(stress: Array) -> Array:
    """Matrix S(σ) with ``ad(x)ᵀ σ = S(σ) x``."""
    out = np.zeros((*stress.shape, 6))
    force = skew(stress[..., :3])
    out[..., :3, 3:] = force
    out[..., 3:, :3] = force
    out[..., 3:, 3:] = skew(stress[..., 3:])
    return out
