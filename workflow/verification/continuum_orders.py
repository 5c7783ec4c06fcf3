"""Orders of convergence of every element and formulation by manufactured solutions.

For quadratic elements theory has the error fall with h³ in the L2 norm and h² in the energy norm.
The dilatation projected prism by prism is constant across each prism: there θ − Πθ is of first
order, and with it the error in energy; in L2 it is of the second by duality. As ν → 1/2 the
unprojected elements spend freedom on the vanishing dilatation: what is left of the order
whatever ν is one less.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fem.material import Elastic
from workflow.figures import (
    COUPLE_COLOUR,
    FORCE_COLOUR,
    PASSIVE_COLOUR,
    THIRD_COLOUR,
    WIRE_COLOUR,
    new_figure,
)
from workflow.verification.check import Check, Compared, Kind, Picture
from workflow.verification.continuum_elements import (
    FORMULATIONS,
    HEXAHEDRA,
    PROJECTED,
    TETRAHEDRA,
    WIRE,
    Body,
    bent_wire,
    cube,
    cube_of_hexahedra,
    smoothly_moved,
    solid_of,
)
from workflow.verification.continuum_fields import (
    Field,
    cosine_field,
    errors,
    manufactured,
    nodal_load,
    sines,
    solved,
    stress_load,
)
from workflow.verification.continuum_rotation import finite_turn, green_strain

Array = NDArray[np.float64]

_RATIOS = (0.3, 0.499)
_CELLS = {TETRAHEDRA: (4, 8, 12), PROJECTED: (4, 8, 12), HEXAHEDRA: (2, 4, 6), WIRE: (2, 4, 6)}
# In the L2 and in the energy norm.
_THEORY = {TETRAHEDRA: (3, 2), PROJECTED: (2, 1), HEXAHEDRA: (3, 2), WIRE: (3, 2)}
_FINITE = "bent wire turned by 1.4 rad"
_NORMS = ("L2", "energy")
_ORDER = 7  # of the quadrature for loads and errors; the code's own is 2 and 4
_CODE = (
    "fem.assembly.Assembler.stiffness, fem.assembly.LayerDilatation.stiffness, "
    "fem.elasticity.elastic_energy, fem.sweep_solid.WireSolid.internal"
)


def _material(nu: float) -> Elastic:
    return Elastic(2 * (1 + nu), nu)


@cache
def _errors(formulation: str, nu: float) -> Array:
    """Errors of a manufactured solution on three meshes, (3, 2)."""
    return np.array([_one_mesh(_body(formulation, n), nu) for n in _CELLS[formulation]])


def _body(formulation: str, cells: int) -> Body:
    return bent_wire(cells) if formulation == WIRE else cube(formulation, cells, smoothly_moved)


def _one_mesh(body: Body, nu: float) -> tuple[float, float]:
    material = _material(nu)
    return _solve(body, manufactured(material), material)


def _solve(body: Body, field: Field, material: Elastic) -> tuple[float, float]:
    samples = body.sampled(_ORDER)
    load = nodal_load(body, samples, field.force(samples.places))
    u = solved(body, body.stiffness(material), load, field.u(body.nodes))
    return errors(body, samples, u, field, material)


def _observed(found: Array, cells: tuple[int, ...]) -> Array:
    """Orders between the two finest meshes."""
    return np.asarray(np.log(found[-2] / found[-1]) / np.log(cells[-1] / cells[-2]))


def _orders() -> Compared:
    computed = [_observed(_errors(name, 0.3), _CELLS[name]) for name in FORMULATIONS]
    labels = _labels(FORMULATIONS)
    return Compared(
        computed, list(_THEORY.values()), 1.0, labels, _stated(labels, np.array(computed))
    )


def _stated(labels: list[str], orders: Array) -> str:
    pairs = zip(labels, orders.flat, strict=True)
    return "observed " + "; ".join(f"{label} {order:.2f}" for label, order in pairs)


def _labels(names: tuple[str, ...]) -> list[str]:
    return [f"{name}, {norm}" for name in names for norm in _NORMS]


def _orders_kept() -> Compared:
    found = np.array([_observed(_errors(name, 0.499), _CELLS[name]) for name in FORMULATIONS])
    # The projection's own order does not depend on ν; the others may lose one.
    least = np.array(
        [np.array(_THEORY[name]) - (name != PROJECTED) for name in FORMULATIONS], dtype=float
    )
    grown = [
        f"{name} {_errors(name, 0.499)[-1, 0] / _errors(name, 0.3)[-1, 0]:.1f}"
        for name in FORMULATIONS
    ]
    note = (
        f"{_stated(_labels(FORMULATIONS), found)}. "
        f"Error in L2 on the finest mesh over that at ν = 0.3: {', '.join(grown)}"
    )
    return Compared(np.maximum(least - found, 0), 0.0, 1.0, _labels(FORMULATIONS), note)


def _published_orders() -> Compared:
    found = []
    for nu in _RATIOS:
        material = _material(nu)
        bodies = [cube_of_hexahedra(cells) for cells in (4, 8)]
        error = np.array([_solve(body, sines(material), material) for body in bodies])
        found.append(np.log2(error[0, 0] / error[1, 0]))
    return Compared(found, [3.01, 2.47], 1.0, [f"ν = {nu}" for nu in _RATIOS])


def _finite_rotation() -> Compared:
    cells = (2, 4, 6)
    found = np.array([_bent_and_turned(bent_wire(n)) for n in cells])
    orders, labels = _observed(found, cells), [f"{_FINITE}, {norm}" for norm in _NORMS]
    return Compared(orders, [3, 2], 1.0, labels, _stated(labels, orders))


def _bent_and_turned(body: Body) -> tuple[float, float]:
    """Errors of ``x ↦ R (x + v(x))`` under the load of its own exact stress."""
    solid = solid_of(body)
    material, turn = solid.material, finite_turn()
    field = cosine_field(0.02 * np.array([1.5, 1.0, -0.7]), material)
    samples = body.sampled(_ORDER)
    slope = field.gradient(samples.places)
    E = green_strain(slope)
    volume = np.trace(E, axis1=-2, axis2=-1)[..., None, None]
    S = material.lame_MPa * volume * np.eye(3) + 2 * material.shear_modulus_MPa * E
    load = stress_load(body, samples, turn @ (np.eye(3) + slope) @ S)
    x = body.nodes
    held = (x + field.u(x)) @ turn.T - x
    u = held.copy()
    for _ in range(8):
        forces, K = solid.internal(u.ravel())
        step = solved(body, K, load - forces.reshape(-1, 3), np.zeros_like(u))
        u += step
        if np.abs(step).max() < 1e-11:
            return errors(body, samples, (x + u) @ turn - x, field, material)
    raise RuntimeError(f"Newton's steps do not end: {np.abs(step).max():.1e} mm left")


def _table() -> pd.DataFrame:
    rows = [
        {
            "formulation": name,
            "poisson_ratio": nu,
            "h_mm": 1 / cells,
            "error_L2": L2,
            "error_energy": energy,
            "theory_L2": _THEORY[name][0],
            "theory_energy": _THEORY[name][1],
        }
        for name in FORMULATIONS
        for nu in _RATIOS
        for cells, (L2, energy) in zip(_CELLS[name], _errors(name, nu), strict=True)
    ]
    return pd.DataFrame(rows)


_LOOKS = dict(
    zip(
        FORMULATIONS,
        ((WIRE_COLOUR, "o"), (FORCE_COLOUR, "s"), (COUPLE_COLOUR, "^"), (THIRD_COLOUR, "D")),
        strict=True,
    )
)


def _draw(table: pd.DataFrame) -> Figure:
    figure = new_figure(10.0, 5.6)
    panels = figure.subplots(1, 2, sharex=True)
    columns = {"error_L2": "displacement (L2 norm)", "error_energy": "strain (energy norm)"}
    for axes, (column, what) in zip(panels, columns.items(), strict=True):
        for (name, nu), group in table.groupby(["formulation", "poisson_ratio"], sort=False):
            colour, mark = _LOOKS[str(name)]
            line = "-" if nu == _RATIOS[0] else "--"
            axes.plot(
                group["h_mm"],
                group[column],
                line,
                marker=mark,
                color=colour,
                label=f"{name}, ν = {nu}",
            )
        _reference_slopes(axes, table, column)
        axes.set(xscale="log", yscale="log", xlabel="size of the elements h (mm)")
        axes.set_ylabel(f"relative error of the {what}")
        ticks = sorted(table["h_mm"].unique())
        axes.set_xticks(ticks, [f"1/{round(1 / h)}" for h in ticks])
        axes.minorticks_off()
    handles, names = panels[0].get_legend_handles_labels()
    figure.legend(handles, names, loc="outside lower center", ncols=2, fontsize=8, frameon=False)
    return figure


def _reference_slopes(axes: Axes, table: pd.DataFrame, column: str) -> None:
    """Slopes of theory below the curves."""
    h = np.array([table["h_mm"].min(), table["h_mm"].max()])
    low = 0.35 * table[column].min()
    for order in sorted(table[column.replace("error", "theory")].unique()):
        axes.plot(h, low * (h / h[0]) ** order, ":", color=PASSIVE_COLOUR, linewidth=1)
        axes.annotate(
            f"h{'' if order == 1 else '²' if order == 2 else '³'}",
            (h[1], low * (h[1] / h[0]) ** order),
            (4, 0),
            textcoords="offset points",
            color=PASSIVE_COLOUR,
            va="center",
        )


ORDER_PICTURES = (
    Picture(
        name="continuum_orders",
        caption=(
            "Error against element size for a manufactured solution, every element and formulation "
            "of the elasticity code. Near ν = 1/2 the unprojected elements start far higher and "
            "fall more slowly at first: locking, which the projection of the dilatation eases in "
            "displacements; dotted, the slopes of theory."
        ),
        table=_table,
        draw=_draw,
    ),
)

ORDER_CHECKS = (
    Check(
        id="orders_of_convergence",
        what="observed order of the error at ν = 0.3, two finest of three meshes",
        code=_CODE,
        kind=Kind.CODE,
        source="mms",
        place="cosines with their body force; theory 3 and 2, projected 2 and 1 (Ciarlet 1978)",
        tolerance=0.15,
        reason="orders are those of the limit; the meshes end at a twelfth and a sixth",
        compute=_orders,
    ),
    Check(
        id="orders_kept_near_incompressibility",
        what="what the observed order falls short of the order that holds for every ν, at 0.499",
        code=_CODE,
        kind=Kind.CODE,
        source="babuska_suri",
        place="locking: theory 2 and 1 for quadratic elements; 2 and 1 with the projection",
        tolerance=0.15,
        reason="orders are those of the limit; the meshes end at a twelfth and a sixth",
        compute=_orders_kept,
    ),
    Check(
        id="orders_of_hexahedra",
        what="observed L2 order of quadratic hexahedra from 4 to 8 a side, ν = 0.3 and 0.499",
        code="fem.elasticity.elastic_energy",
        kind=Kind.BENCHMARK,
        source="scikit_fem",
        place="check values 0.5: sines on the unit cube; locking costs half an order at 0.499",
        tolerance=0.006,
        reason="two decimals are given",
        compute=_published_orders,
    ),
    Check(
        id="orders_at_finite_rotation",
        what="observed order of the error of a bent wire strained and turned by 1.4 rad",
        code=_CODE.rsplit(", ", 1)[1],
        kind=Kind.CODE,
        source="mms",
        place="load of the exact Piola stress; theory 3 and 2 (Ciarlet 1978)",
        tolerance=0.15,
        reason="orders are those of the limit; the meshes end at a sixth",
        compute=_finite_rotation,
    ),
)
