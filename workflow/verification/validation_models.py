"""Measured areas, centres and movements of teeth beside the model's.

Rigid teeth in rigid sockets, meshed ligaments between them. Ranges of the ligament: Poisson's ratio
0.30 (Poppe et al. 2002), 0.45 (Jones et al. 2001), 0.49 (Tanne et al. 1987 and followers, from
memory); thickness 0.15 to 0.38 mm (Orban's Oral Histology, as cited). The three bilinear laws are
those of Poppe et al. 2002, Dong-Xu et al. 2011 and Papageorgiou et al. 2017. Young's modulus
cancels from all places and ratios of a linear ligament. A review gives 0.01 to 68.9 MPa for it:
over that range the model would explain any movement, so linear ligaments are stated by their
sources.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fem.bilinear import BilinearLaw
from fem.material import Elastic
from fem.nonlinear_support import BilinearLayer, RestingUnit, unit_at_rest
from fem.resistance import rotation_centre_depth_mm, textbook_depth_mm
from fem.rigid import shift_stiffness
from fem.support import rigid_body_support
from fem.unit import ToothSupport, join_teeth
from geometry.anatomy import known_teeth, tooth_dimensions
from geometry.arch import tooth_frame
from geometry.mesh import TetMesh
from geometry.tooth_mesh import ToothSpec, build_tooth_mesh
from workflow.verification.check import Compared
from workflow.verification.validation_kit import (
    Range,
    interval,
    spanned,
)

Array = NDArray[np.float64]

MESIAL, BUCCAL, OCCLUSAL = np.eye(3)
POISSON_RATIOS = (0.30, 0.45, 0.49)
THICKNESSES_MM = (0.15, 0.38)
_CREST_MM = 1.5
_WAYS = {"mesial": MESIAL, "buccal": BUCCAL, "apical": -OCCLUSAL}
_LINEAR_SIZE_MM, _BILINEAR_SIZE_MM = 1.0, 1.2
SINGLE = tuple(
    n for n in known_teeth() if n // 10 in (2, 3) and tooth_dimensions(n).root_count == 1
)
_LAWS = {
    "Poppe": BilinearLaw(0.05, 0.28, 0.075, 0.30),
    "Dong-Xu": BilinearLaw(0.04, 0.16, 0.073, 0.30),
    "Papageorgiou": BilinearLaw(0.05, 0.20, 0.070, 0.30),
}
LIGAMENT_WORDS = "Poisson's ratio 0.30 to 0.49, ligament 0.15 to 0.38 mm thick"
BILINEAR_WORDS = "three bilinear laws, ligament 0.15 to 0.38 mm thick"
SUPPORT_CODE = "fem.support.rigid_body_support, fem.resistance.textbook_depth_mm"
NONLINEAR_CODE = "fem.nonlinear_support.unit_at_rest, fem.bilinear.BilinearLaw"


@cache
def _layer(number: int, thickness_mm: float, size_mm: float, crest_mm: float) -> TetMesh:
    spec = ToothSpec(
        tooth_dimensions(number),
        crest_depth_mm=crest_mm,
        ligament_thickness_mm=thickness_mm,
        root_size_mm=size_mm,
    )
    return build_tooth_mesh(spec).submesh(["ligament"])


@cache
def support(number: int, poisson: float, thickness_mm: float, crest_mm: float = _CREST_MM) -> Array:
    """6×6 about the cervix of a tooth whose ligament has a Young's modulus of 1 MPa."""
    layer = _layer(number, thickness_mm, _LINEAR_SIZE_MM, crest_mm)
    return rigid_body_support(layer, Elastic(1.0, poisson), np.zeros(3)).stiffness


def ligaments() -> Iterable[tuple[float, float]]:
    """Poisson's ratios and thicknesses of the band."""
    return product(POISSON_RATIOS, THICKNESSES_MM)


def _fraction(number: int, ligament: tuple[float, float], direction: Array) -> float:
    """Depth of the textbook centre below the crest over the embedded root."""
    depth = textbook_depth_mm(support(number, *ligament), np.zeros(3), direction, OCCLUSAL)
    return (depth - _CREST_MM) / (tooth_dimensions(number).root_length_mm - _CREST_MM)


@cache
def _single_rooted_teeth() -> dict[str, float]:
    """Fractions of all teeth, ligaments and directions, by what they are of."""
    ways = {"mesiodistal": MESIAL, "buccolingual": BUCCAL}
    return {
        f"tooth {n}, {name}, ν = {ligament[0]}, {ligament[1]} mm": _fraction(n, ligament, way)
        for n, ligament, (name, way) in product(SINGLE, list(ligaments()), ways.items())
    }


def single_rooted() -> Range:
    """Centres of all single-rooted teeth over their embedded roots."""
    return spanned(list(_single_rooted_teeth().values()))


def each_single_root() -> Compared:
    """How far each tooth lies outside 0.33 to 0.42."""
    teeth = _single_rooted_teeth()
    values = np.array(list(teeth.values()))
    outside = np.maximum(0.0, np.maximum(0.33 - values, values - 0.42))
    note = f"They lie at {interval(*single_rooted())} of the embedded root; {LIGAMENT_WORDS}."
    return Compared(outside, 0.0, 1.0, list(teeth), note)


@cache
def upper_central() -> Range:
    """Centre of the upper central incisor for labial forces, over its embedded root."""
    return spanned([_fraction(21, ligament, BUCCAL) for ligament in ligaments()])


@cache
def lower_molars(numbers: tuple[int, ...]) -> Range:
    """Depth below the crest of the first molar over its embedded root, joined as one body."""
    first, found = tooth_frame(36), []
    root = tooth_dimensions(36).root_length_mm
    for ligament in ligaments():
        teeth = tuple(
            ToothSupport(n, tooth_frame(n), np.zeros(3), support(n, *ligament)) for n in numbers
        )
        centre = join_teeth(teeth).centre
        way = first.axes[:, 0]
        depth = textbook_depth_mm(centre.stiffness, centre.point, way, OCCLUSAL)
        below = (first.origin - centre.point) @ OCCLUSAL + depth
        found.append(float(below - _CREST_MM) / (root - _CREST_MM))
    return spanned(found)


@cache
def bilinear_at_rest(
    number: int, law: str, thickness_mm: float, height_mm: float, force_N: float, way: str
) -> RestingUnit:
    """Tooth at rest under a force on its axis, at a height above the cervix."""
    layer = _layer(number, thickness_mm, _BILINEAR_SIZE_MM, _CREST_MM)
    load = np.concatenate([force_N * _WAYS[way], np.zeros(3)])
    held = BilinearLayer(layer, _LAWS[law], height_mm * OCCLUSAL)
    return unit_at_rest([held], [np.eye(6)], load)


@cache
def labial_um() -> Range:
    """Movement of an upper central incisor at mid-crown under 0.39 N there, bilinear laws."""
    height = tooth_dimensions(21).crown_length_mm / 2
    return spanned(
        [
            1e3 * float(bilinear_at_rest(21, law, t, height, 0.39, "buccal").motion[1])
            for law, t in product(_LAWS, THICKNESSES_MM)
        ]
    )


def labial_at_usual_thickness() -> Compared:
    """How far each bilinear law at 0.2 mm lies outside the measured 12 to 133 µm."""
    height = tooth_dimensions(21).crown_length_mm / 2
    moved = {
        law: 1e3 * float(bilinear_at_rest(21, law, 0.20, height, 0.39, "buccal").motion[1])
        for law in _LAWS
    }
    outside = [max(0.0, 12 - um, um - 133) for um in moved.values()]
    words = ", ".join(f"{law} {um:.0f} µm" for law, um in moved.items())
    note = f"{words}; measured 12 to 133 µm. Force and measurement taken at the crown's middle."
    return Compared(outside, 0.0, 1.0, list(moved), note)


@cache
def linear_labial_um() -> Range:
    """The ligament fitted in the same paper, 1 MPa and 0.45, and one of 0.68 MPa and 0.49."""
    place, load = tooth_dimensions(21).crown_length_mm / 2 * OCCLUSAL, np.zeros(6)
    load[1], found = 0.39, []
    for (modulus, poisson), t in product(((1.0, 0.45), (0.68, 0.49)), THICKNESSES_MM):
        K = modulus * shift_stiffness(support(21, poisson, t), np.zeros(3), place)
        found.append(1e3 * float(np.linalg.solve(K, load)[1]))
    return spanned(found)


@cache
def axial_um() -> Range:
    """Movement of an upper central incisor under an axial force of 1 N, bilinear laws."""
    return spanned(
        [
            -1e3 * float(bilinear_at_rest(21, law, t, 0.0, 1.0, "apical").motion[2])
            for law, t in product(_LAWS, THICKNESSES_MM)
        ]
    )


@cache
def knee_N() -> Range:
    """Axial force at which the soft and the stiff branch of the movement meet."""
    found = []
    for (name, law), t in product(_LAWS.items(), THICKNESSES_MM):
        soft = law.initial_MPa * float(support(21, law.poisson_ratio, t)[2, 2])
        past = bilinear_at_rest(21, name, t, 0.0, 1.0, "apical")
        stiff, moved = float(past.stiffness[2, 2]), -float(past.motion[2])
        found.append((moved - 1.0 / stiff) / (1 / soft - 1 / stiff))
    return spanned(found)


@cache
def premolar_over_molar() -> Range:
    """Axial movement of a second premolar over that of a first molar, one force on each."""
    found = []
    for (premolar, molar), ligament in product(((25, 26), (35, 36)), ligaments()):
        soft, stiff = (np.linalg.inv(support(n, *ligament))[2, 2] for n in (premolar, molar))
        found.append(soft / stiff)
    return spanned(found)


@cache
def translation_of_a_canine() -> Range:
    """M/F at the middle of the crown, for distal translation."""
    height = tooth_dimensions(23).crown_length_mm / 2
    return spanned(
        [
            textbook_depth_mm(support(23, *ligament), np.zeros(3), MESIAL, OCCLUSAL) + height
            for ligament in ligaments()
        ]
    )


def after_loss(of: str) -> Range:
    """A length after 8 mm of bone loss over that before, upper central incisor."""
    found = []
    for ligament in ligaments():
        before, after = (_lengths(depth, ligament)[of] for depth in (_CREST_MM, _CREST_MM + 8))
        found.append(after / before)
    return spanned(found)


@cache
def _lengths(crest_mm: float, ligament: tuple[float, float]) -> dict[str, float]:
    """Centre below the crest, M/F at the bracket, centre over the embedded root, tipping centre."""
    dimensions, K = tooth_dimensions(21), support(21, *ligament, crest_mm)
    bracket = dimensions.crown_length_mm / 2
    at_bracket = shift_stiffness(K, np.zeros(3), bracket * OCCLUSAL)
    depth = textbook_depth_mm(K, np.zeros(3), BUCCAL, OCCLUSAL)
    centre = rotation_centre_depth_mm(
        at_bracket, bracket * OCCLUSAL, BUCCAL, OCCLUSAL, np.zeros(1)
    )[0]
    return {
        "below_crest": depth - crest_mm,
        "moment_to_force": depth + bracket,
        "of_embedded": (depth - crest_mm) / (dimensions.root_length_mm - crest_mm),
        "tipping_below_crest": float(centre) - bracket - crest_mm,
    }


def loss_steps() -> Compared:
    """Changes with every 4 mm of bone loss, signed so that the published trend is positive."""
    changes, labels = [], []
    for ligament in ligaments():
        rows = [_lengths(_CREST_MM + loss, ligament) for loss in (0.0, 4.0, 8.0)]
        for name, sign in (
            ("below_crest", -1),
            ("moment_to_force", 1),
            ("tipping_below_crest", -1),
        ):
            steps = sign * np.diff([row[name] for row in rows])
            changes += list(steps)
            labels += [f"{name}, ν = {ligament[0]}, step {k + 1}" for k in range(len(steps))]
    against = np.maximum(0.0, -np.array(changes))
    note = (
        "With every 4 mm of bone lost the centre of resistance comes nearer to the crest, the M/F "
        "for translation rises and the tipping centre of rotation comes nearer to the crest, for "
        f"all of: {LIGAMENT_WORDS}. Least step {min(changes):.2f} mm. Any root that tapers does so."
    )
    return Compared(against, 0.0, 1.0, labels, note)
