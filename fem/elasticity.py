"""The scikit-fem form of linear elasticity: for solids swept from hexahedra, and as the oracle.

Straight quadratic tetrahedra are assembled by `fem.assembly`, which gives the same matrix; tests
hold the two together.
"""

from __future__ import annotations

from skfem import BilinearForm
from skfem.helpers import ddot, sym_grad, trace


@BilinearForm
def elastic_energy(u, v, w):  # type: ignore[no-untyped-def]
    """Bilinear form ``λ tr ε(u) tr ε(v) + 2μ ε(u):ε(v)``; takes ``lame`` and ``shear`` in MPa."""
    eps_u, eps_v = sym_grad(u), sym_grad(v)
    return w.lame * trace(eps_u) * trace(eps_v) + 2 * w.shear * ddot(eps_u, eps_v)
