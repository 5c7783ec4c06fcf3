"""Measured areas, centres and movements of teeth beside the model's.

What the bands are made of stands in `workflow.verification.validation_models`.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.surface import crest_plane, split_surface
from geometry.tooth import tooth_surface
from workflow.verification.check import Compared
from workflow.verification.validation_kit import Measurement, Range, as_printed, spanned
from workflow.verification.validation_models import (
    BILINEAR_WORDS,
    LIGAMENT_WORDS,
    NONLINEAR_CODE,
    SINGLE,
    SUPPORT_CODE,
    after_loss,
    axial_um,
    knee_N,
    labial_um,
    linear_labial_um,
    lower_molars,
    premolar_over_molar,
    single_rooted,
    translation_of_a_canine,
    upper_central,
)


@cache
def _root_area(number: int) -> Range:
    """Whole root, its taper from a paraboloid's to that of half an ellipsoid."""
    dimensions = tooth_dimensions(number)
    return spanned(
        [
            split_surface(
                tooth_surface(replace(dimensions, taper=taper)), crest_plane(0.0)
            ).area_mm2("root")
            for taper in (1.0, 2.0)
        ]
    )


def _area(number: int) -> Measurement:
    dimensions = tooth_dimensions(number)
    published = {name.split(" ")[0]: area for name, area in dimensions.root_area_mm2}
    sources = " and ".join(published)
    low, high = spanned(list(published.values()))
    return Measurement(
        id=f"root_area_{number}",
        what=f"root area, {dimensions.name}",
        unit="mm²",
        measured=(low - 0.5, high + 0.5),
        source="mowry" if "Mowry" in published else "jepsen",
        place=f"{sources}: mean of a sample; its spread was not seen",
        model=lambda: _root_area(number),
        inputs="taper of the roots, from a paraboloid's to half an ellipsoid's; published lengths "
        "and widths as they are",
        says="Lengths and widths are means of other teeth than the areas; two studies of one tooth "
        "differ by up to 40 %.",
        code="geometry.tooth.tooth_surface",
    )


_AREAS = {n: _area(n) for n in known_teeth() if n // 10 in (2, 3)}
_AREAS_EXPLAINED = (21, 25, 32, 34, 35, 36)
AREAS = tuple(_AREAS.values())


def areas_compared() -> Compared:
    """Distances of the areas that the band reaches; the others in words."""
    rest = {n: m.distance() for n, m in _AREAS.items() if n not in _AREAS_EXPLAINED}
    words = ", ".join(
        f"{_AREAS[n].what.removeprefix('root area, ')} {100 * d:.0f} %" for n, d in rest.items()
    )
    return Compared(
        [_AREAS[n].distance() for n in _AREAS_EXPLAINED],
        0.0,
        1.0,
        [_AREAS[n].what for n in _AREAS_EXPLAINED],
        f"Of {len(_AREAS)} teeth these {len(_AREAS_EXPLAINED)} agree. Off the published areas: "
        f"{words}. Most of those roots are smaller than published; the upper first premolar's is "
        "larger.",
    )


_BY_SHAPE = (
    "The ligament's constants shift the centre by a twentieth of the root at most; what is left is "
    "the form of root and crest, and how the value was measured."
)

REVIEW = Measurement(
    "centre_of_single_rooted_teeth",
    "centre of resistance, single-rooted teeth, over the embedded root",
    "1",
    (0.33, 0.42),
    "papageorgiou_2005",
    "review: 33 to 42 % of the root from the crest",
    single_rooted,
    f"{len(SINGLE)} teeth, both directions, {LIGAMENT_WORDS}",
    "All lie inside or close to the range of the review.",
    SUPPORT_CODE,
)

EXPLAINED = (
    REVIEW,
    Measurement(
        "labial_movement_of_an_incisor",
        "crown of an upper central incisor under 0.39 N",
        "µm",
        (12.0, 133.0),
        "jones",
        "abstract: ten volunteers, 12 to 133 µm",
        labial_um,
        BILINEAR_WORDS,
        "Bilinear ligaments fitted to other teeth give the upper part of the measured range. The "
        "persons who moved least need a ligament that is stiff from the start.",
        NONLINEAR_CODE,
    ),
    Measurement(
        "centre_by_autopsy",
        "centre of resistance of eight human teeth, over the embedded root",
        "1",
        as_printed(0.42, 0.01),
        "poppe",
        "abstract: 42 % of the alveolar height from the crest, whatever the root's length",
        single_rooted,
        f"{len(SINGLE)} teeth, both directions, {LIGAMENT_WORDS}",
        "At the upper end of the band: most of these teeth come out at 0.38 to 0.41.",
        SUPPORT_CODE,
    ),
    Measurement(
        "centre_of_the_lower_first_molar",
        "centre of resistance of the lower first molar, over its embedded root",
        "1",
        as_printed(0.48, 0.01),
        "oh",
        "abstract: 0.48 of the root from the crest (finite elements of a scanned jaw)",
        lambda: lower_molars((36,)),
        LIGAMENT_WORDS,
        "Within the band; a computed value of another group, on a scanned jaw.",
        SUPPORT_CODE,
    ),
    Measurement(
        "axial_mobility_of_an_incisor",
        "axial movement of an upper incisor, light load",
        "µm",
        as_printed(28.0, 1.0),
        "parfitt",
        "28 µm; the load was not seen and is taken as 1 N",
        axial_um,
        BILINEAR_WORDS,
        "Of the measured order. Both value and load are from memory, so this shows little more.",
        NONLINEAR_CODE,
    ),
    Measurement(
        "translation_of_a_canine",
        "M/F at the bracket for translation of an upper canine",
        "mm",
        (9.0, 13.0),
        "iwasaki",
        "abstract: 9 to 13 mm used in seven persons",
        translation_of_a_canine,
        f"{LIGAMENT_WORDS}; bracket at the middle of the crown",
        "The distance from the bracket to the centre of resistance is the M/F that was used.",
        SUPPORT_CODE,
    ),
)

NOT_EXPLAINED = (
    Measurement(
        "labial_movement_in_linear_ligaments",
        "the same incisor in linear ligaments of 0.68 to 1 MPa",
        "µm",
        (12.0, 133.0),
        "jones",
        "abstract: 12 to 133 µm, and E = 1 MPa, ν = 0.45 fitted with elastic bone",
        linear_labial_um,
        "E = 1 MPa, ν = 0.45 and E = 0.68 MPa, ν = 0.49, ligament 0.15 to 0.38 mm thick",
        "Far too stiff in a rigid socket; these values belong to models whose bone gives way.",
        SUPPORT_CODE,
    ),
    Measurement(
        "centre_in_the_mouth",
        "centre of resistance of the upper central incisor in the mouth",
        "1",
        (0.28, 0.38),
        "yoshida",
        "abstract: about two thirds of the palatal bone height from the apex, three persons; read "
        "as 0.33 ± 0.05",
        upper_central,
        LIGAMENT_WORDS,
        f"The model's lies deeper. {_BY_SHAPE} Their height of bone is the palatal one.",
        SUPPORT_CODE,
    ),
    Measurement(
        "centre_by_holography",
        "centre of resistance of the upper central incisor by holography",
        "1",
        as_printed(0.33, 0.01),
        "burstone_pryputniewicz",
        "a third of the root from the crest",
        upper_central,
        LIGAMENT_WORDS,
        f"The model's lies deeper. {_BY_SHAPE}",
        SUPPORT_CODE,
    ),
    Measurement(
        "centre_by_tanne",
        "centre of resistance of the upper central incisor, finite elements of 1988",
        "1",
        as_printed(0.24, 0.01),
        "tanne",
        "0.24 of the root length apical to the crest",
        upper_central,
        LIGAMENT_WORDS,
        "Less deep than any other value known here; another model's, from memory.",
        SUPPORT_CODE,
    ),
    Measurement(
        "axial_knee",
        "axial force at which a tooth becomes stiffer",
        "N",
        (3.0, 4.0),
        "picton",
        "soft up to 300 or 400 g, stiffer to 2 kg",
        knee_N,
        BILINEAR_WORDS,
        "The bilinear laws were fitted to lateral movement; along the tooth their knee comes too "
        "early. Fluid and vessels, which bear axial load at first, are not in the model.",
        NONLINEAR_CODE,
    ),
    Measurement(
        "premolar_beside_molar",
        "axial movement of a premolar over that of a molar, one force on each",
        "1",
        (0.0, 1.0),
        "picton",
        "premolars move less than molars",
        premolar_over_molar,
        f"second premolars and first molars of both jaws, {LIGAMENT_WORDS}",
        "Here the molar moves less, for it has more root; the same ligament on every tooth cannot "
        "give the measured order.",
        SUPPORT_CODE,
    ),
    *(
        Measurement(
            f"centre_of_{len(numbers)}_joined_teeth",
            f"centre of resistance of {words} as one body, over the first molar's root",
            "1",
            as_printed(published, 0.01),
            "oh",
            f"abstract: {published} of the first molar's root (finite elements of a scanned jaw)",
            lambda n=numbers: lower_molars(n),  # type: ignore[misc]
            LIGAMENT_WORDS,
            "Premolars take the centre deeper, as published; that a second molar takes it nearer "
            "to the crest is published as well, and overdone here, where all cusps stand in one "
            "plane and a short crown has its crest high.",
            "fem.unit.join_teeth, fem.support.rigid_body_support",
        )
        for numbers, words, published in (
            ((36, 37), "both lower molars", 0.46),
            ((35, 36, 37), "lower molars and second premolar", 0.50),
            ((34, 35, 36, 37), "lower molars and both premolars", 0.53),
        )
    ),
    Measurement(
        "fraction_after_bone_loss",
        "centre over the embedded root after 8 mm of bone loss, over that before",
        "1",
        as_printed(1.0, 0.1),
        "choy",
        "abstract: the relative location remains constant (planar parabolic root)",
        lambda: after_loss("of_embedded"),
        LIGAMENT_WORDS,
        "Constant for a paraboloid of any length. What is left of a blunter root is short and "
        "wide, with the centre nearer to its crest.",
        SUPPORT_CODE,
    ),
)
