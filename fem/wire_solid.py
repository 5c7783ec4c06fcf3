"""A straight wire as a 3D solid, held at two cross-sections and loaded at a third: a check.

Quadratic hexahedra, small strain, linear. Supports and load act on whole cross-sections through
their mean displacement (work-conjugate to a uniform traction), so no point or line support spoils
the answer, and the same supports can be put into beam theory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import Basis, ElementHex2, ElementVector, FacetBasis, LinearForm, MeshHex

from fem.elasticity import elastic_energy
from fem.material import Elastic
from fem.section import Section

Array = NDArray[np.float64]

_ENERGY_TOLERANCE = 1e-7


@dataclass(frozen=True)
class SolidWire:
    """Answer of the solid model to a unit force across the tip.

    Attributes
    ----------
    stiffness_N_per_mm
        Tip force over mean tip displacement.
    positions_mm
        Cross-sections along the wire from the first contact, (n,).
    deflection_mm_per_N
        Deflection of the wire's axis at them, for 1 N, (n,).
    unknowns
        Size of the system.
    energy_imbalance
        |uᵀ K u / (F δ) − 1|: proof of the solve. The residual is no measure here, since a slender
        wire's displacements are large against its strains.
    """

    stiffness_N_per_mm: float
    positions_mm: Array
    deflection_mm_per_N: Array
    unknowns: int
    energy_imbalance: float


def solid_two_point_cantilever(
    section: Section,
    material: Elastic,
    span_mm: float,
    base_mm: float,
    *,
    across: tuple[int, int] = (2, 2),
    along_per_height: float = 0.5,
) -> SolidWire:
    """Solve a straight rectangular wire held at two contacts and loaded beyond the second.

    Parameters
    ----------
    section
        A rectangular section; bending in the plane of its height.
    material
        Elastic constants.
    span_mm, base_mm
        Contact to load, and contact to contact.
    across
        Elements over the width and the height.
    along_per_height
        Elements along the wire for each section height of length.

    Raises
    ------
    ValueError
        If the section is not rectangular.
    RuntimeError
        If the strain energy misses the work of the load by more than 1e-7 of it.
    """
    if section.kind != "rectangular":
        raise ValueError("the solid check sweeps rectangular sections only")
    mesh, stations = _swept_box(section, span_mm, base_mm, across, along_per_height)
    space = Basis(mesh, ElementVector(ElementHex2()), intorder=4)
    K = elastic_energy.assemble(
        space, lame=material.lame_MPa, shear=material.shear_modulus_MPa
    ).tocsr()
    ends = {name: _section_means(mesh, x) for name, x in stations.items()}
    first, second, tip = ends["first"], ends["second"], ends["tip"]
    constraints = np.stack([*first[:3], first[3], second[1], second[2]])
    u, imbalance = _constrained_solve(K, constraints, tip[2])
    x, axis_deflection = _axis_line(space, mesh, u)
    return SolidWire(
        stiffness_N_per_mm=1.0 / float(tip[2] @ u),
        positions_mm=x,
        deflection_mm_per_N=axis_deflection,
        unknowns=space.N,
        energy_imbalance=imbalance,
    )


def _swept_box(
    section: Section, span: float, base: float, across: tuple[int, int], density: float
) -> tuple[MeshHex, dict[str, float]]:
    def cuts(length: float) -> int:
        return max(2, int(np.ceil(length / section.height_mm * density)))

    x = np.concatenate(
        [np.linspace(0, base, cuts(base) + 1), base + np.linspace(0, span, cuts(span) + 1)[1:]]
    )
    y = np.linspace(-section.width_mm / 2, section.width_mm / 2, across[0] + 1)
    z = np.linspace(-section.height_mm / 2, section.height_mm / 2, across[1] + 1)
    return MeshHex.init_tensor(x, y, z), {"first": 0.0, "second": base, "tip": base + span}


def _section_means(mesh: MeshHex, x: float) -> list[Array]:
    """Vectors whose product with the displacements gives section means.

    Mean x, y, z displacement and mean of ``y u_z − z u_y`` (roll) of the cross-section at x.
    """
    facets = mesh.facets_satisfying(lambda p: np.isclose(p[0], x), boundaries_only=False)
    basis = FacetBasis(mesh, ElementVector(ElementHex2()), facets=facets, intorder=4)
    area = float(np.sum(basis.dx))

    @LinearForm
    def component(v, w):  # type: ignore[no-untyped-def]
        return v[int(w.axis)] / area

    @LinearForm
    def roll(v, w):  # type: ignore[no-untyped-def]
        return (w.x[1] * v[2] - w.x[2] * v[1]) / area

    means = [component.assemble(basis, axis=axis) for axis in range(3)]
    return [*means, roll.assemble(basis)]


def _constrained_solve(K: sp.csr_matrix, constraints: Array, load: Array) -> tuple[Array, float]:
    """Displacement under a load with linear constraints, by Lagrange multipliers.

    The constraints are scaled to the matrix's size, or the factorisation loses them.
    """
    scale = abs(K).max()
    C = sp.csr_matrix(constraints * scale)
    system = sp.bmat([[K, C.T], [C, None]], format="csc")
    right = np.concatenate([load, np.zeros(len(constraints))])
    u = splu(system).solve(right)[: K.shape[0]]
    work = float(load @ u)
    imbalance = abs(float(u @ (K @ u)) / work - 1.0)
    if not imbalance < _ENERGY_TOLERANCE:
        raise RuntimeError(f"the solid wire's energy balance is off by {imbalance:.1e}")
    return u, imbalance


def _axis_line(space: Basis, mesh: MeshHex, u: Array) -> tuple[Array, Array]:
    on_axis = np.flatnonzero(np.isclose(mesh.p[1], 0) & np.isclose(mesh.p[2], 0))
    order = on_axis[np.argsort(mesh.p[0, on_axis])]
    return mesh.p[0, order], u[space.nodal_dofs[2, order]]
