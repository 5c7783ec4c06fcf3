"""Section constants against sectionproperties, an independent library of finite elements.

The library is not to be had on every platform (see ``pyproject.toml``). Where it is missing these
checks cannot run; tests skip them and say so.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import Any

from fem.section import Section, rectangular_section, round_section
from workflow.verification.check import Check, Compared, Kind

# Name: width, height, corner radius in mm.
_SHARP = {
    "0.016 × 0.022 in": (0.5588, 0.4064, 0.0),
    "0.017 × 0.025 in upright": (0.4318, 0.635, 0.0),
    "ribbon": (1.6, 0.4, 0.0),
}
_ROUNDED = {
    "square 0.016 in": (0.4064, 0.4064, 0.12),
    "0.017 × 0.025 in": (0.635, 0.4318, 0.155),
    "0.019 × 0.025 in upright": (0.4826, 0.635, 0.05),
    "round ends": (0.8, 0.4, 0.2),
}
_ROUND_MM = 0.4064
_ARC = 64  # chords a quarter circle, which lose 1e-4 of the circle's area and 2e-4 of its I and J
_PARTS = ("area", "I height", "I width", "J")


@cache
def _meshed(width: float, height: float, radius: float) -> tuple[float, ...]:
    """Area, both second moments, torsion constant and modulus by finite elements."""
    analysis: Any = import_module("sectionproperties.analysis")
    pre: Any = import_module("sectionproperties.pre")
    shapes: Any = import_module("shapely.geometry")
    if radius == width / 2 == height / 2:
        outline = shapes.Point(0, 0).buffer(radius, quad_segs=_ARC)
    else:
        inner = shapes.box(
            radius - width / 2, radius - height / 2, width / 2 - radius, height / 2 - radius
        )
        outline = inner.buffer(radius, quad_segs=_ARC) if radius else inner
    mesh = pre.Geometry(outline).create_mesh(mesh_sizes=[outline.area / 1000])
    section = analysis.Section(mesh)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    about_width, about_height, _ = section.get_ic()
    stress = section.calculate_stress(mzz=1.0).get_stress()[0]["sig_zxy_mzz"]
    J = section.get_j()
    return section.get_area(), about_width, about_height, J, 1 / abs(stress).max()


def _ours(section: Section) -> tuple[float, ...]:
    return (
        section.area_mm2,
        section.I_height_mm4,
        section.I_width_mm4,
        section.torsion_mm4,
        section.torsion_modulus_mm3,
    )


def _all() -> dict[str, tuple[Section, tuple[float, float, float]]]:
    wires = {n: (rectangular_section(*size), size) for n, size in (_SHARP | _ROUNDED).items()}
    return wires | {"round": (round_section(_ROUND_MM), (_ROUND_MM, _ROUND_MM, _ROUND_MM / 2))}


def _moments_sharp() -> Compared:
    found = [_ours(rectangular_section(*size))[:3] for size in _SHARP.values()]
    theirs = [_meshed(*size)[:3] for size in _SHARP.values()]
    return Compared(found, theirs, labels=[f"{n}, {part}" for n in _SHARP for part in _PARTS[:3]])


def _torsion_sharp() -> Compared:
    found = [_ours(rectangular_section(*size))[3] for size in _SHARP.values()]
    return Compared(found, [_meshed(*size)[3] for size in _SHARP.values()], labels=list(_SHARP))


def _rounded() -> Compared:
    wires = {name: wire for name, wire in _all().items() if name not in _SHARP}
    found = [_ours(section)[:4] for section, _ in wires.values()]
    theirs = [_meshed(*size)[:4] for _, size in wires.values()]
    return Compared(found, theirs, labels=[f"{n}, {part}" for n in wires for part in _PARTS])


def _modulus() -> Compared:
    found = [_ours(section)[4] for section, _ in _all().values()]
    return Compared(found, [_meshed(*size)[4] for _, size in _all().values()], labels=list(_all()))


CHECKS = (
    Check(
        id="library_moments_sharp",
        what="area and second moments of sharp rectangles, mm² and mm⁴",
        code="fem.section.rectangular_section",
        kind=Kind.PEER,
        source="sectionproperties",
        place="three wires on meshes of a thousand elements",
        tolerance=1e-12,
        reason="polygons are integrated exactly by both",
        compute=_moments_sharp,
    ),
    Check(
        id="library_torsion_sharp",
        what="torsion constant of sharp rectangles, mm⁴",
        code="fem.section.rectangular_section",
        kind=Kind.PEER,
        source="sectionproperties",
        place="three wires on meshes of a thousand elements",
        tolerance=2e-5,
        reason="error of the library's quadratic elements",
        compute=_torsion_sharp,
    ),
    Check(
        id="library_rounded",
        what="area, second moments and torsion constant of rounded and round wires",
        code="fem.section.rectangular_section, fem.section.round_section",
        kind=Kind.PEER,
        source="sectionproperties",
        place="four wires with rounded corners and a circle",
        tolerance=3e-4,
        reason="the library draws arcs by chords, which lose 2e-4 of a circle's I and J",
        compute=_rounded,
    ),
    Check(
        id="library_torsion_modulus",
        what="torsion modulus T/τ of sharp, rounded and round wires, mm³",
        code="fem.section.rectangular_section, fem.section.round_section",
        kind=Kind.PEER,
        source="sectionproperties",
        place="eight wires on meshes of a thousand elements",
        tolerance=1e-2,
        reason="the library smooths stress to the nodes, so its mesh sets the bound",
        compute=_modulus,
    ),
)
