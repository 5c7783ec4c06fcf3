"""Measured rates, tip-back, play of wires and their stiffness beside the model's."""

from __future__ import annotations

from functools import cache
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq

from fem.resistance import textbook_depth_mm
from fem.section import rectangular_section
from fem.slot import Slot, slot_play
from geometry.anatomy import left_twin
from workflow.case import load_case, resolved
from workflow.case_units import CaseUnits, case_units
from workflow.catalogue import load_catalogue
from workflow.course import case_course
from workflow.equilibrium import engage_case
from workflow.plan import teeth_of
from workflow.records import write_json
from workflow.specs import Spec
from workflow.tip_back import AT_CENTRE, AT_CROWN, PUBLISHED, tip_back_table
from workflow.units import MM_PER_INCH
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.validation_kit import Measurement, Range, as_printed, spanned
from workflow.verification.validation_models import (
    LIGAMENT_WORDS,
    MESIAL,
    OCCLUSAL,
    POISSON_RATIOS,
    bilinear_at_rest,
    support,
)

Array = NDArray[np.float64]

_TIP_BACK = Path(__file__).parents[2] / "configs" / "cases" / "upper_molar_tip_back.yaml"
_THICKNESS_MM = 0.15
_MODULUS_MPA = 0.28  # of the project's default ligament; ways in proportion hardly depend on it
_REAL_SLOT_MM = (0.470, 0.481)  # of nominal 0.457: Meling et al. 1998
_UNDERSIZE = 0.10  # of a wire, on average: Fischer-Brandies et al. 2000
_GF_N = 9.80665e-3
_ENDS = (POISSON_RATIOS[0], POISSON_RATIOS[-1])


def _placed(case: Spec, poisson: float) -> CaseUnits:
    """Units of a case in ligaments of one Poisson's ratio."""
    with TemporaryDirectory() as folder:
        files = {tooth: f"{folder}/{tooth}.json" for tooth in teeth_of(case)}
        for tooth, file in files.items():
            K = _MODULUS_MPA * support(left_twin(tooth), poisson, _THICKNESS_MM)
            write_json(file, {"stiffness": K, "point_mm": [0.0, 0.0, 0.0]})
        return case_units(case, files)


@cache
def _tip_back(poisson: float) -> pd.DataFrame:
    """The project's own case of the trial, followed, beside the trial."""
    case = resolved(load_case(_TIP_BACK))
    units = _placed(case, poisson)
    offset = engage_case(case, units).solved.offset_mm
    return tip_back_table(case_course(case, units, offset)).set_index("molar")


def _per_degree(column: str) -> Range:
    places = (AT_CROWN, AT_CENTRE)
    return spanned([float(_tip_back(nu)[column][place]) for nu, place in product(_ENDS, places)])


@cache
def _rates_of_a_canine() -> Range:
    """Initial movement at 60 g over that at 18 g through the centre: bilinear and linear."""
    found = [60 / 18]
    depth = textbook_depth_mm(support(23, 0.30, 0.15), np.zeros(3), MESIAL, OCCLUSAL)
    moved = [
        np.linalg.norm(bilinear_at_rest(23, "Poppe", 0.15, -depth, g * _GF_N, "mesial").motion[:3])
        for g in (18, 60)
    ]
    found.append(float(moved[1] / moved[0]))
    return spanned(found)


@cache
def _rates_of_intrusion() -> Range:
    """Initial movement of an upper incisor under a quarter of 80 g over that under one of 40 g."""
    axial = np.linalg.inv(support(21, 0.30, 0.15))[2, 2]
    moved = [
        (force * axial, -bilinear_at_rest(21, "Poppe", 0.15, 0.0, force, "apical").motion[2])
        for force in (10 * _GF_N, 20 * _GF_N)
    ]
    return spanned(np.divide(moved[1], moved[0]).tolist())


@cache
def _pressure_kPa(grams: float) -> Range:
    """Greatest normal stress on the pressed side of a translated upper canine, ``M u/t``."""
    found = []
    for poisson, t in product(POISSON_RATIOS, (0.15, 0.38)):
        constrained = (1 - poisson) / ((1 + poisson) * (1 - 2 * poisson))
        K = support(23, poisson, t)
        depth = textbook_depth_mm(K, np.zeros(3), MESIAL, OCCLUSAL)
        load = grams * _GF_N * np.concatenate([MESIAL, np.cross(-depth * OCCLUSAL, MESIAL)])
        motion = np.linalg.solve(K, load)
        centre = motion[:3] + np.cross(motion[3:], -depth * OCCLUSAL)
        found.append(1e3 * constrained * float(centre @ MESIAL) / t)
    return spanned(found)


def _play_deg(height_in: float, width_in: float, slots_mm: tuple[float, ...]) -> Range:
    """One-sided torsional play, wire as nominal and undersized."""
    found = []
    for slot, size in product(slots_mm, (1.0, 1 - _UNDERSIZE)):
        height, width = (size * MM_PER_INCH * inch for inch in (height_in, width_in))
        play = slot_play(rectangular_section(width, height), Slot(slot, 0.8, 4.0))
        found.append(float(np.degrees(play.torsion_rad)))
    return spanned(found)


_SLOTS_MM = (0.018 * MM_PER_INCH, *_REAL_SLOT_MM)


@cache
def _twist_deg() -> Range:
    """Measured play and ``T L/(GJ)`` for 20 N·mm over 4 mm, 0.016 × 0.022 inch steel."""
    low, high = load_catalogue().alloys["stainless_steel"].youngs_modulus_range_MPa
    found = []
    for modulus, size, play in product((low, high), (1.0, 1 - _UNDERSIZE), (16.6, 20.4)):
        section = rectangular_section(size * 0.022 * MM_PER_INCH, size * 0.016 * MM_PER_INCH)
        turn = 20.0 * 4.0 / (modulus / 2.6 * section.torsion_mm4)
        found.append(play + float(np.degrees(turn)))
    return spanned(found)


@cache
def _bevelled_percent() -> Range:
    """Loss of bending stiffness of wires whose rounded edges take 7 to 8 % of their area."""
    found = []
    sizes = ((0.016, 0.022), (0.017, 0.025), (0.018, 0.025), (0.019, 0.025), (0.021, 0.025))
    for (height_in, width_in), loss in product(sizes, (0.07, 0.08)):
        height, width = height_in * MM_PER_INCH, width_in * MM_PER_INCH
        sharp = rectangular_section(width, height)

        def missing(
            radius: float, w: float = width, h: float = height, part: float = loss
        ) -> float:
            return 1 - rectangular_section(w, h, radius).area_mm2 / (w * h) - part

        rounded = rectangular_section(width, height, brentq(missing, 0.0, height / 2))
        for plane in ("I_height_mm4", "I_width_mm4"):
            found.append(100 * (1 - getattr(rounded, plane) / getattr(sharp, plane)))
    return spanned(found)


def _stiffness_number(alloy: str) -> Range:
    alloys = load_catalogue().alloys
    low, high = alloys[alloy].youngs_modulus_range_MPa
    steel_low, steel_high = alloys["stainless_steel"].youngs_modulus_range_MPa
    return low / steel_high, high / steel_low


_NUMBERS = {
    "cobalt_chromium": 1.19,
    "beta_titanium": 0.42,
    "nickel_titanium_stabilised": 0.26,
}


def _number(alloy: str, published: float) -> Measurement:
    return Measurement(
        f"material_number_{alloy}",
        f"bending stiffness beside steel, {alloy.replace('_', ' ')}",
        "1",
        as_printed(published, 0.01),
        "burstone_1981",
        "wire stiffness: material numbers",
        lambda: _stiffness_number(alloy),
        "published ranges of both alloys' moduli",
        "Within the ranges; one number of one maker's wire each.",
        "workflow.catalogue.load_catalogue",
    )


MATERIALS = tuple(_number(alloy, value) for alloy, value in _NUMBERS.items())


def _numbers_compared() -> Compared:
    return Compared(
        [m.distance() for m in MATERIALS],
        0.0,
        1.0,
        [m.what for m in MATERIALS],
        "Working values of the catalogue give 1.03, 0.38 and 0.20.",
    )


NUMBERS_CHECK = Check(
    id="material_numbers",
    what="published stiffness numbers of alloys: distance from the band of their moduli, over them",
    code="workflow.catalogue.load_catalogue",
    kind=Kind.VALIDATION,
    source="burstone_1981",
    place="cobalt–chromium 1.19, titanium–molybdenum 0.42, nickel–titanium 0.26",
    tolerance=0.0,
    reason="the ranges overlap or they do not",
    compute=_numbers_compared,
)

_PLAY = "slot 0.457 to 0.481 mm (measured ones 0.470 to 0.481), wire up to 10 % undersize"
_COURSE = (
    f"Poisson's ratio 0.30 to 0.49 at {_THICKNESS_MM:.2f} mm; at the middle of the crown and at "
    "the centre of resistance"
)
_ALIKE = as_printed(1.0, 0.2)
_RATE_CODE = "fem.course.course, fem.nonlinear_support.unit_at_rest"

EXPLAINED = (
    Measurement(
        "play_of_a_full_wire",
        "torsional play of 0.018 × 0.025 in a slot of 0.018 inch",
        "°",
        as_printed(5.0, 1.0),
        "odegaard",
        "about 5°",
        lambda: _play_deg(0.018, 0.025, _SLOTS_MM),
        _PLAY,
        "Nominal sizes give none; slots and wires as they are made give up to 7°.",
        "fem.slot.slot_play",
    ),
    Measurement(
        "twist_for_a_moment",
        "twist of 0.016 × 0.022 for 20 N·mm over 4 mm",
        "°",
        (24.6, 29.2),
        "meling",
        "abstract: 24.6 to 29.2°",
        _twist_deg,
        "measured play 16.6 to 20.4°, modulus of steel 154 to 180 GPa, wire up to 10 % undersize",
        "With the measured play instead of the computed one: torsion alone is tested.",
        "fem.section.rectangular_section",
    ),
    Measurement(
        "bevelled_wires",
        "bending stiffness that bevelled edges cost",
        "%",
        (15.0, 19.0),
        "rucker_kusy",
        "abstract: area 7 to 8 %, bending stiffness 15 to 19 % less",
        _bevelled_percent,
        "rounded edges that take 7 to 8 % of the area, five sections, both planes",
        "Edges taken as round, fitted to the area alone, cost about as much stiffness.",
        "fem.section.rectangular_section",
    ),
)

_TIP_BACK_ROWS = (
    Measurement(
        "tip_back_distal",
        "distal movement of upper molars with a degree of tip-back",
        "mm/°",
        as_printed(PUBLISHED.distal_mm / PUBLISHED.tip_deg, 0.002),
        "janakiraman",
        "abstract: 1.53 mm and 6.65°, means of 16 patients",
        lambda: _per_degree("distal_mm_per_deg"),
        _COURSE,
        "The crown's middle goes less far. Nearer to the cusps it would go as far; which point was "
        "measured is not known here.",
        "fem.course.course, workflow.tip_back.tip_back_table",
    ),
    Measurement(
        "tip_back_extrusion",
        "extrusion of upper molars with a degree of tip-back",
        "mm/°",
        as_printed(PUBLISHED.extrusion_mm / PUBLISHED.tip_deg, 0.002),
        "janakiraman",
        "abstract: 0.86 mm and 6.65°, means of 16 patients",
        lambda: _per_degree("extrusion_mm_per_deg"),
        _COURSE,
        "A ligament bonded to both walls is stiffest along the tooth, and growth is not in it.",
        "fem.course.course, workflow.tip_back.tip_back_table",
    ),
)

_PRESSURE_ROWS = tuple(
    Measurement(
        f"pressure_at_{grams}_grams",
        f"pressure on the root of a canine translated with {grams} g",
        "kPa",
        as_printed(kPa, 1.0),
        "iwasaki",
        f"abstract: {kPa} kPa at {grams} g, force over area",
        lambda g=float(grams): _pressure_kPa(g),  # type: ignore[misc]
        f"greatest normal stress M u/t on the pressed side, {LIGAMENT_WORDS}",
        "Their force over their pressure is an area of 44 to 45 mm². Here the pulled side and the "
        "sides of the root, bonded too, bear more than half of the force.",
        "fem.support.rigid_body_support",
    )
    for grams, kPa in ((18, 4), (60, 13))
)

NOT_EXPLAINED = (
    Measurement(
        "play_of_a_loose_wire",
        "torsional play of 0.016 × 0.022 in a slot of 0.018 inch",
        "°",
        (16.6, 20.4),
        "meling",
        "abstract: 18.5° (16.6 to 20.4); about 20° by Ødegaard et al. 1994",
        lambda: _play_deg(0.016, 0.022, _SLOTS_MM),
        _PLAY,
        "Sharp edges are assumed; rounded ones, which the play leaves out, turn farther.",
        "fem.slot.slot_play",
    ),
    Measurement(
        "rates_at_two_forces",
        "rate of canines at 60 g over that at 18 g",
        "1",
        as_printed(1.27 / 0.87, 0.02),
        "iwasaki",
        "abstract: 1.27 and 0.87 mm a month, seven persons, threefold differences between them",
        _rates_of_a_canine,
        "initial movement in a linear and in Poppe's bilinear ligament, 0.15 mm thick",
        "The course moves teeth in proportion to their initial movement: doubled force, doubled "
        "rate. Measured rates grow far less. The course therefore has no clock.",
        _RATE_CODE,
    ),
    Measurement(
        "rates_of_intrusion",
        "rate of intrusion at 80 g over that at 40 g",
        "1",
        _ALIKE,
        "van_steenbergen",
        "abstract: no difference, 20 patients",
        _rates_of_intrusion,
        "initial movement in a linear and a bilinear ligament, a quarter of the force a tooth",
        "The same: rate does not follow force.",
        _RATE_CODE,
    ),
    *_TIP_BACK_ROWS,
    *_PRESSURE_ROWS,
)
