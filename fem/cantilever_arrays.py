"""Many cantilevers as arrays: sites, passive wires, units and iterates, with the designs last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.attachment import bar_contact
from fem.cantilever import TUBE_PIECES, passive_path
from fem.cantilever_design import ONE_POINT, Cantilever
from fem.march import Chain, apply, compliance, small_rotation
from fem.rigid import se3_log
from geometry.wire import CantileverWire

Array = NDArray[np.float64]
T = TypeVar("T")

MOUTHS = (0, TUBE_PIECES)  # nodes at the mouths of the tube


@dataclass(frozen=True)
class Bodies:
    """One unit of every design: its point (3, n), and its compliance (6, 6, n), 0 if immovable."""

    point: Array
    compliance: Array


@dataclass(frozen=True)
class Designs:
    """Cantilevers with designs last; places are relative to the tube's second mouth.

    Attributes
    ----------
    origin
        The second mouth, (3, n), mm.
    tied
        Whether the hook holds the wire in all directions, (n,).
    mouth, tube_axes
        The first mouth (3, n) and the tube (3, 3, n).
    hook, held, gap
        The hook (3, n), the directions it holds the wire along as rows (3, 3, n; the last is the
        bar's own where there is one) and the activation along them (3, n).
    tip, tip_axes
        The passive end (3, n) and (3, 3, n).
    lengths_mm, passive
        Of the elements from the free end inward, (elements, n) and (elements, 6, n).
    law
        Section law (6, n).
    units
        The two-point and the one-point unit.
    growth_per_mm
        Relative growth of each element with the extra length, which the last leg takes,
        (elements, n).
    """

    origin: Array
    tied: NDArray[np.bool_]
    mouth: Array
    tube_axes: Array
    hook: Array
    held: Array
    gap: Array
    tip: Array
    tip_axes: Array
    lengths_mm: Array
    passive: Array
    law: Array
    units: tuple[Bodies, Bodies]
    growth_per_mm: Array

    @property
    def n_nodes(self) -> int:
        """Nodes of each wire."""
        return len(self.lengths_mm) + 1

    @property
    def softness_mm_per_N(self) -> Array:
        """Order of the wire's compliance, (n,): scale between the equations."""
        return np.asarray(self.run_mm**3 / (3 * self.law[4:].min(axis=0)))

    @property
    def run_mm(self) -> Array:
        """Length of wire outside the tube, (n,)."""
        return np.asarray(self.lengths_mm[:-TUBE_PIECES].sum(axis=0))

    def chains(self, extra_mm: Array) -> tuple[Chain, Chain]:
        """The free wire and the wire in the tube, for an extra length (n,)."""
        factor = 1 + self.growth_per_mm * extra_mm
        passive = self.passive.copy()
        passive[:, :3] *= factor[:, None]
        soft = compliance(self.lengths_mm * factor, self.law, passive)
        growth = self.growth_per_mm / factor
        free, tube = slice(-TUBE_PIECES), slice(-TUBE_PIECES, None)
        return (
            Chain(passive[free], soft[free], growth[free]),
            Chain(passive[tube], soft[tube], growth[tube]),
        )


@dataclass(frozen=True)
class Unknowns:
    """One iterate: place, axes, force on the hook, force across the second mouth, extra, twists."""

    tip: Array
    axes: Array
    force_N: Array
    across_N: Array
    extra_mm: Array
    twists: Array

    def moved(self, delta: Array) -> Unknowns:
        """Next iterate after a Newton step (12, n): place, turn, force, force across, extra."""
        return replace(
            self,
            tip=self.tip + delta[:3],
            axes=apply(small_rotation(delta[3:6]), self.axes),
            force_N=self.force_N + delta[6:9],
            across_N=self.across_N + delta[9:11],
            extra_mm=self.extra_mm + delta[11],
        )


def take(many: T, chosen: NDArray[np.int64] | NDArray[np.bool_]) -> T:
    """Some of the designs of a dataclass of arrays."""
    return _each(many, lambda array: array[..., chosen])


def select(mask: NDArray[np.bool_], first: Unknowns, second: Unknowns) -> Unknowns:
    """Iterates of the first where the mask says so, of the second elsewhere."""
    names = [field.name for field in fields(first)]
    both = {name: (getattr(first, name), getattr(second, name)) for name in names}
    return Unknowns(**{name: np.where(mask, a, b) for name, (a, b) in both.items()})


def _each(many, change):  # type: ignore[no-untyped-def]
    if isinstance(many, np.ndarray):
        return change(many)
    if isinstance(many, tuple):
        return tuple(_each(one, change) for one in many)
    if is_dataclass(many) and not isinstance(many, type):
        parts = {f.name: _each(getattr(many, f.name), change) for f in fields(many)}
        return type(many)(**parts)
    return many


@dataclass(frozen=True)
class _One:
    """What one cantilever adds to the arrays, designs' axis still missing."""

    path: CantileverWire
    held: Array
    gap: Array
    compliances: tuple[Array, Array]


def arrange(
    cantilevers: Sequence[Cantilever], offsets_mm: Array
) -> tuple[Designs | None, NDArray[np.int64], dict[int, str]]:
    """Arrays of the designs that can be bent, their numbers, and why others cannot."""
    ones, numbers, reasons = [], [], {}
    for number, (design, offset) in enumerate(zip(cantilevers, offsets_mm, strict=True)):
        try:
            ones.append(_bent(design, float(offset)))
            numbers.append(number)
        except (ValueError, np.linalg.LinAlgError) as error:
            reasons[number] = str(error)
    designs = _stacked([cantilevers[i] for i in numbers], ones) if ones else None
    return designs, np.array(numbers, dtype=np.int64), reasons


def passive_unknowns(designs: Designs) -> Unknowns:
    """The unloaded start."""
    n = designs.tip.shape[-1]
    return Unknowns(
        tip=designs.tip,
        axes=designs.tip_axes,
        force_N=np.zeros((3, n)),
        across_N=np.zeros((2, n)),
        extra_mm=np.zeros(n),
        twists=designs.passive,
    )


def _bent(design: Cantilever, offset_mm: float) -> _One:
    sites = design.sites
    if sites.pull or not design.determinate:
        raise ValueError(
            "a wire pulled in one direction, held further or in a second bracket is not solved in "
            "batches"
        )
    path = passive_path(design, offset_mm)
    held, gap = np.eye(3), path.tip - sites.hook
    if sites.bar is not None:
        contact = bar_contact(ONE_POINT, 0, sites.hook, sites.bar, path.tip)
        held = np.vstack([contact.directions, np.cross(*contact.directions)])
        gap = np.append(contact.gap, 0.0)
    first, second = (_softness(unit) for unit in design.units)
    return _One(path, held, gap, (first, second))


def _softness(unit: Unit) -> Array:
    if unit.stiffness is None:
        return np.zeros((6, 6))
    softness = np.asarray(np.linalg.inv(unit.stiffness))
    if not np.isfinite(softness).all():
        raise ValueError(f"unit {unit.name} has no support in some direction: give all of its 6×6")
    return softness


def _stacked(designs: Sequence[Cantilever], ones: Sequence[_One]) -> Designs:
    """Arrays with the designs last."""
    origin = np.array([d.sites.mouths[1] for d in designs])
    lengths, passive, growth = _elements([one.path for one in ones])

    def places(which: Sequence[Array]) -> Array:
        return np.ascontiguousarray((np.array(which) - origin).T)

    def units(k: int) -> Bodies:
        soft = np.array([one.compliances[k] for one in ones])
        return Bodies(places([d.units[k].point for d in designs]), _last(soft))

    return Designs(
        origin=_last(origin),
        tied=np.array([d.sites.bar is None for d in designs]),
        mouth=places([d.sites.mouths[0] for d in designs]),
        tube_axes=_last(np.array([d.sites.tube_axes for d in designs])),
        hook=places([d.sites.hook for d in designs]),
        held=_last(np.array([one.held for one in ones])),
        gap=_last(np.array([one.gap for one in ones])),
        tip=places([one.path.tip for one in ones]),
        tip_axes=_last(np.array([one.path.axes[-1] for one in ones])),
        lengths_mm=lengths,
        passive=passive,
        law=_last(np.array([d.wire.law for d in designs])),
        units=(units(0), units(1)),
        growth_per_mm=growth,
    )


def _elements(paths: Sequence[CantileverWire]) -> tuple[Array, Array, Array]:
    """Lengths (elements, n), passive twists (elements, 6, n) and growth (elements, n).

    All from the free end inward. Wires of fewer elements than others get some without length at
    the tube's mouth, so that all have as many.
    """
    full = max(len(path.points) for path in paths)
    points, axes = np.empty((len(paths), full, 3)), np.empty((len(paths), full, 3, 3))
    lengths, growth = np.zeros((2, len(paths), full - 1))
    for k, path in enumerate(paths):
        missing = full - len(path.points)
        mouth, leg = path.mouths[1], path.last_pieces
        nodes = np.insert(np.arange(len(path.points)), mouth + 1, [mouth] * missing)
        points[k], axes[k] = path.points[nodes], path.axes[nodes]
        lengths[k] = np.insert(path.lengths_mm, mouth, np.zeros(missing))
        growth[k, -leg:] = 1 / path.lengths_mm[-leg:].sum()
    turned = np.swapaxes(axes[:, :-1], -1, -2)
    steps = np.einsum("neij,nej->nei", turned, np.diff(points, axis=1))
    twists = se3_log(turned @ axes[:, 1:], steps)
    outer_first = np.ascontiguousarray(twists[:, ::-1].transpose(1, 2, 0))
    lengths, growth = (np.ascontiguousarray(each[:, ::-1].T) for each in (lengths, growth))
    return lengths, outer_first, growth


def _last(array: Array) -> Array:
    """The designs' axis moved from the first place to the last."""
    return np.ascontiguousarray(np.moveaxis(array, 0, -1))
