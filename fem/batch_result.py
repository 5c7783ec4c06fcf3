"""What a batch of cantilevers gives back, kept only where wire and loads balance.

The proof is in the words of `fem.rod`: the forces that the found frames strain out of every
element must be those the contacts ask it to carry.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.cantilever_arrays import MOUTHS, Designs, Unknowns
from fem.cantilever_equations import Engaged, moment_at
from fem.rigid import inverse_tangent, se3_log, shift_wrench

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

_TOLERANCE = 1e-9  # of the largest contact force, or rounding of the axial stiffness if larger
_LARGEST_UNIT_TURN_RAD = 1.0


@dataclass(frozen=True)
class BatchResult:
    """Engaged cantilevers, in the order they were given; NaN where a design failed.

    Attributes
    ----------
    points, axes
        Frames of the nodes from the first mouth to the hook, (n, nodes, 3) in mm and
        (n, nodes, 3, 3). A wire of fewer nodes than others repeats that at the second mouth.
    motions
        Motion of the two-point and the one-point unit at their points, (n, 2, 6), mm and rad.
    loads
        Force and moment that each contact gives its unit, about the node that touches it:
        first mouth (with the turning couple), second mouth, hook; (n, 3, 6), N and N·mm.
    extra_mm
        Length the free run gained by sliding through the tube, (n,).
    residual_N
        Largest force out of balance at the ends of any element (moments over 1 mm), (n,).
    converged
        Which designs are solved, (n,).
    reasons
        Why a design failed; empty for a solved one.
    """

    points: Array
    axes: Array
    motions: Array
    loads: Array
    extra_mm: Array
    residual_N: Array
    converged: Flags
    reasons: tuple[str, ...]

    def with_nodes(self, nodes: int) -> BatchResult:
        """The same with more nodes: that at the second mouth repeated."""
        kept, more = np.arange(self.points.shape[1]), nodes - self.points.shape[1]
        at = np.insert(kept, MOUTHS[1] + 1, [MOUTHS[1]] * more)
        return replace(self, points=self.points[:, at], axes=self.axes[:, at])

    @property
    def forces_on_hook_N(self) -> Array:
        """Force on the one-point unit, (n, 3)."""
        return self.loads[:, 2, :3]

    def couples_on_tube_Nmm(self, middles: Array) -> Array:
        """Moment on the two-point unit about the middle of its attachment, (n, 3).

        Parameters
        ----------
        middles
            The middles of the tubes, (n, 3), mm.
        """
        about = np.asarray(middles, dtype=float)[:, None]
        shifted = shift_wrench(self.loads[:, :2], self.points[:, list(MOUTHS)], about)
        return np.asarray(shifted[..., 3:].sum(axis=1))


class Answers:
    """What is known of each design so far."""

    def __init__(self, n: int) -> None:
        self.n = n
        self.reasons: dict[int, str] = {}
        self.found: list[tuple[Ints, dict[str, Array]]] = []

    def arrived(self, numbers: Ints, designs: Designs, at: Unknowns, wire: Engaged) -> None:
        """Check and keep solved designs."""
        residual = _out_of_balance(wire)
        load = np.abs(wire.wrenches[1][:3] - wire.wrenches[0][:3]).max(axis=0)
        load = np.maximum(load, np.abs(at.force_N).max(axis=0))
        balanced = residual < np.maximum(_TOLERANCE * load, _rounding_N(designs, wire.free.points))
        for number, worst in zip(numbers[~balanced], residual[~balanced], strict=True):
            self.reasons[int(number)] = f"the wire is out of balance by {worst:.2g} N"
        turn = np.max([np.linalg.norm(motion[3:], axis=0) for motion in wire.motions], axis=0)
        wide = turn > _LARGEST_UNIT_TURN_RAD
        for number, most in zip(numbers[wide], turn[wide], strict=True):
            self.reasons[int(number)] = (
                f"a unit turns by {most:.2g} rad, far beyond the small motion of a linear support: "
                "check its stiffness or reduce the activation"
            )
        good = balanced & ~wide
        kept = {
            name: np.moveaxis(values[..., good], -1, 0)
            for name, values in _answer(designs, at, wire, residual).items()
        }
        self.found.append((numbers[good], kept))

    def packed(self, nodes: int) -> BatchResult:
        """All designs in their order."""
        n = self.n
        shapes = {
            "points": (nodes, 3),
            "axes": (nodes, 3, 3),
            "motions": (2, 6),
            "loads": (3, 6),
            "extra_mm": (),
            "residual_N": (),
        }
        arrays = {name: np.full((n, *shape), np.nan) for name, shape in shapes.items()}
        converged = np.zeros(n, dtype=bool)
        for numbers, values in self.found:
            converged[numbers] = True
            for name, array in values.items():
                arrays[name][numbers] = array
        reasons = tuple(self.reasons.get(k, "") for k in range(n))
        return BatchResult(**arrays, converged=converged, reasons=reasons)


def _answer(designs: Designs, at: Unknowns, wire: Engaged, residual: Array) -> dict[str, Array]:
    """Arrays of the result, designs still last."""
    free, tube = wire.free, wire.tube
    points = np.concatenate([free.points, tube.points[1:]])[::-1] + designs.origin
    axes = np.concatenate([free.axes, tube.axes[1:]])[::-1]
    turning = moment_at(wire.wrenches[1], tube.points[-1])
    push = wire.wrenches[0][:3] - wire.wrenches[1][:3]
    none = np.zeros_like(push)
    loads = np.stack(
        [
            np.concatenate([wire.wrenches[1][:3], turning]),
            np.concatenate([push, none]),
            np.concatenate([at.force_N, none]),
        ]
    )
    return {
        "points": points,
        "axes": axes,
        "motions": np.stack(wire.motions),
        "loads": loads,
        "extra_mm": at.extra_mm,
        "residual_N": residual,
    }


def _out_of_balance(wire: Engaged) -> Array:
    """Largest force (moments over 1 mm) by which strain and load of an element differ, (n,)."""
    worst = np.zeros(wire.twists.shape[-1])
    for chain, marched, wrench in zip(
        wire.chains, (wire.free, wire.tube), wire.wrenches, strict=True
    ):
        points = np.moveaxis(marched.points, -1, 0)
        axes = np.moveaxis(marched.axes, -1, 0)
        turned = np.swapaxes(axes[:, 1:], -1, -2)
        steps = np.einsum("neij,nej->nei", turned, points[:, :-1] - points[:, 1:])
        twist = se3_log(turned @ axes[:, :-1], steps)
        soft = np.moveaxis(chain.compliance, -1, 0).copy()
        none = ~soft.any(axis=(-2, -1))  # elements without length carry any load
        soft[none] = np.eye(6)
        strained = twist - np.moveaxis(chain.passive, -1, 0)
        stress = np.linalg.solve(soft, strained[..., None])[..., 0]
        everywhere = np.repeat(wrench.T[:, None], points.shape[1], axis=1)
        carried = shift_wrench(everywhere, np.zeros(3), points)
        for end, sign in ((slice(None, -1), 1.0), (slice(1, None), -1.0)):
            felt = np.concatenate(
                [
                    np.einsum("neji,nej->nei", axes[:, end], carried[:, end, part])
                    for part in (slice(3), slice(3, None))
                ],
                axis=-1,
            )
            given = np.einsum("neij,nei->nej", inverse_tangent(sign * twist), stress)
            apart = np.abs(given - felt)
            apart[none] = 0.0
            worst = np.maximum(worst, apart.max(axis=(1, 2)))
    return worst


def _rounding_N(designs: Designs, points: Array) -> Array:
    """Force that rounding of the nodes' places makes of the axial stiffness, (n,)."""
    reach = np.abs(points).max(axis=(0, 1))
    shortest = np.where(designs.lengths_mm > 0, designs.lengths_mm, np.inf).min(axis=0)
    return np.asarray(8 * np.finfo(float).eps * reach * designs.law[:3].max(axis=0) / shortest)
