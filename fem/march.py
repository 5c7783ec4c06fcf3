"""Many rods at once, from their free ends inward: the equations of `fem.rod`, solved for strain.

Between two contacts a rod carries one wrench w, the same at every node when it is taken about one
point O of space. An element's twist then follows from the frame of its outer node B,

    ``ξ = ζ₀ + c T(ξ)ᵀ φ``,  ``φ = Ad(H_B)ᵀ w``,  ``c = h C⁻¹``,  ``H_A = H_B exp(−ξ)``

with the passive twist ζ₀ and the element's law C. It is the balance ``T⁻ᵀ C (ξ/h − ε₀) = φ`` of
`fem.rod` turned over, contracts by about half the element's turn a pass, and leaves no stiffness
matrix to be factored.
The answer of all elements of a chain to a change of load is the sum of their flexibilities
(exact to the second power of an element's turn, enough for fast Newton steps):

    ``s_end = s_start + Y (δw + ad(s_start)ᵀ w)``,  s: twist of a node about O.

Vectors are (components, designs) and rotations (3, 3, designs): the designs lie next to each
other in memory. Valid for elements that turn by less than 1 rad.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.rigid import ad

Array = NDArray[np.float64]

_PASSES = 2  # corrections of an element's twist in one march
_TRUNCATION = 1e-15  # of the load, where the series of T is cut
_MOST_TERMS = 20
_SERIES = 7  # terms of the exponential's coefficients; 1e-16 below half a turn of 0.5 rad


@dataclass(frozen=True)
class Chain:
    """Elements between two contacts, the outermost first, of many designs.

    Attributes
    ----------
    passive
        Twist ζ₀ of each element as bent, (elements, 6, designs), mm and rad.
    compliance
        c = h C⁻¹, (elements, 6, 6, designs), mm/N, 1/N and 1/(N·mm).
    growth_per_mm
        Relative growth of an element's length with the wire's extra length, (elements, designs).
    """

    passive: Array
    compliance: Array
    growth_per_mm: Array


@dataclass(frozen=True)
class Marched:
    """Frames along a chain, from its start inward, and how its end answers.

    Attributes
    ----------
    points, axes
        Frames of the nodes, (elements + 1, 3, designs) and (elements + 1, 3, 3, designs).
    twists
        Twists of the elements, (elements, 6, designs).
    response
        Y, and in a seventh column the twist of the end by extra length, (6, 7, designs).
    change
        Largest change of a twist from what it started at, (designs,).
    """

    points: Array
    axes: Array
    twists: Array
    response: Array
    change: Array


def compliance(lengths_mm: Array, law: Array, passive: Array) -> Array:
    """Element compliances h C⁻¹, (elements, 6, 6, designs): `fem.rod.element_law`.

    Parameters
    ----------
    lengths_mm
        (elements, designs).
    law
        Diagonal of the section law, (6, designs).
    passive
        Passive twists, (elements, 6, designs).
    """
    A = ad(np.moveaxis(passive, 1, -1))
    soft = (lengths_mm[:, None] / law).transpose(0, 2, 1)
    out = (A * soft[..., None, :] / 12) @ np.swapaxes(A, -1, -2)
    out[..., np.arange(6), np.arange(6)] += soft
    return np.ascontiguousarray(np.moveaxis(out, 1, -1))


def march(chain: Chain, twists: Array, start: tuple[Array, Array], wrench: Array) -> Marched:
    """Frames of a chain that carries a wrench, one correction of its twists.

    Parameters
    ----------
    twists
        Twists to start from, (elements, 6, designs).
    start
        Point (3, designs) and axes (3, 3, designs) of the outermost node.
    wrench
        Load on the wire from outside its start, about the origin, (6, designs).
    """
    x, R = start
    points, axes, found = [x], [R], []
    response = np.zeros((6, 7, x.shape[-1]))
    change = np.zeros(x.shape[-1])
    for index, twist in enumerate(twists):
        load = np.concatenate([to_body(R, wrench[:3]), to_body(R, _moment_at(x, wrench))])
        passive, soft = chain.passive[index], chain.compliance[index]
        terms = _terms(twist)
        for _ in range(_PASSES):
            twist = passive + apply(soft, _section_load(twist, load, terms))
        change = np.maximum(change, np.abs(twist - twists[index]).max(axis=0))
        turn, shift = _exponential(-0.5 * twist)
        middle, at = product(R, turn), x + apply(R, shift)
        grown = chain.growth_per_mm[index] * (twist - _turn_only(passive))
        response -= _flexed(response, wrench, (at, middle), soft, grown)
        x, R = at + apply(middle, shift), product(middle, turn)
        points.append(x)
        axes.append(R)
        found.append(twist)
    return Marched(np.stack(points), np.stack(axes), np.stack(found), response, change)


def cross(a: Array, b: Array) -> Array:
    """Cross product of vectors with components first."""
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        np.multiply(a[j], b[k], out=out[i])
        out[i] -= a[k] * b[j]
    return out


def apply(R: Array, v: Array) -> Array:
    """Matrix (i, j, designs) times vector (j, designs) or columns (j, k, designs)."""
    return np.einsum("ijn,jn->in" if v.ndim == 2 else "ijn,jkn->ikn", R, v)


def to_body(R: Array, v: Array) -> Array:
    """Transposed matrix times vector or columns."""
    return np.einsum("jin,jn->in" if v.ndim == 2 else "jin,jkn->ikn", R, v)


def product(A: Array, B: Array) -> Array:
    """Product of matrices (3, 3, designs)."""
    return np.einsum("ijn,jkn->ikn", A, B)


def turned_load(twist: Array, wrench: Array) -> Array:
    """Change ``ad(s)ᵀ w`` of a wrench as felt by nodes that move by s; columns allowed in s."""
    v, w = twist[:3], twist[3:]
    force, moment = wrench[:3], wrench[3:]
    if twist.ndim == 3:
        force, moment = force[:, None], moment[:, None]
    return np.concatenate([cross(force, w), cross(moment, w) + cross(force, v)])


def small_rotation(vector: Array) -> Array:
    """Rotation matrices of rotation vectors (3, designs) below 1 rad."""
    return _exponential(np.concatenate([np.zeros_like(vector), vector]))[0]


def _moment_at(x: Array, wrench: Array) -> Array:
    return wrench[3:] - cross(x, wrench[:3])


def _turn_only(passive: Array) -> Array:
    """The passive turn, which extra length leaves alone."""
    return np.concatenate([np.zeros_like(passive[:3]), passive[3:]])


def _terms(twist: Array) -> int:
    """Terms of T that the largest turn among the designs asks for."""
    turn = 1.2 * np.sqrt(np.nanmax(np.einsum("in,in->n", twist[3:], twist[3:]), initial=1e-4))
    size, k = 1.0, 0
    while size > _TRUNCATION and k < _MOST_TERMS:
        k += 1
        size *= turn / (k + 1)
    return k


def _section_load(twist: Array, load: Array, terms: int) -> Array:
    """``T(ξ)ᵀ φ = Σ (−adᵀ)ᵏ φ / (k + 1)!``."""
    u, w = twist[:3], twist[3:]
    force, moment = load[:3], load[3:]
    total = load.copy()
    for k in range(2, terms + 2):
        force, moment = cross(w, force) / k, (cross(u, force) + cross(w, moment)) / k
        total[:3] += force
        total[3:] += moment
    return total


def _exponential(twist: Array) -> tuple[Array, Array]:
    """Rotation (3, 3, n) and shift (3, n) of a small twist, its coefficients by their series."""
    u, w = twist[:3], twist[3:]
    square = np.einsum("in,in->n", w, w)
    first, second, third = (_coefficient(square, order) for order in (1, 2, 3))
    wu = cross(w, u)
    shift = u + second * wu + third * cross(w, wu)
    R = second * (w[:, None] * w[None])
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        R[i, i] += 1 - second * square
        R[j, k] -= first * w[i]
        R[k, j] += first * w[i]
    return R, shift


def _coefficient(square: Array, order: int) -> Array:
    """``Σ (−θ²)ᵏ / (2k + order)!``: sin θ/θ, (1 − cos θ)/θ², (θ − sin θ)/θ³."""
    total = np.ones_like(square)
    for k in range(_SERIES, 0, -1):
        total = 1 - square / ((2 * k + order) * (2 * k + order - 1)) * total
    return total / (1, 1, 2, 6)[order]


def _flexed(
    response: Array, wrench: Array, middle: tuple[Array, Array], soft: Array, grown: Array
) -> Array:
    """What one element, taken at its middle, adds to the response of its inner node."""
    x, R = middle[0][:, None], middle[1]
    felt = turned_load(response, wrench)
    felt[np.arange(6), np.arange(6)] += 1.0
    force, moment = to_body(R, felt[:3]), to_body(R, felt[3:] - cross(x, felt[:3]))
    strained = apply(soft, np.concatenate([force, moment]))
    strained[:, 6] += grown
    turn = apply(R, strained[3:])
    return np.concatenate([apply(R, strained[:3]) + cross(x, turn), turn])
