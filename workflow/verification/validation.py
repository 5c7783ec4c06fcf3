"""Published measurements beside the model, with the uncertainty of its inputs as a band.

A check passes where the measured range and the model's band overlap. Measurements that the model
does not explain stand in the same figures and tables; no input is fitted to them.
"""

from __future__ import annotations

from workflow.verification import validation_mechanics as mechanics
from workflow.verification import validation_models as models
from workflow.verification import validation_teeth as teeth
from workflow.verification.check import Check, Kind, Picture
from workflow.verification.validation_kit import interval_figure, measurement_table

EXPLAINED = (*teeth.EXPLAINED, *mechanics.EXPLAINED)
NOT_EXPLAINED = (*teeth.NOT_EXPLAINED, *mechanics.NOT_EXPLAINED)

_SLOW = (
    "labial_movement_of_an_incisor",
    "centre_by_autopsy",
    "centre_of_the_lower_first_molar",
    "axial_mobility_of_an_incisor",
)

CHECKS = (
    *(m.check(m.id in _SLOW) for m in EXPLAINED if m is not teeth.REVIEW),
    Check(
        id="centre_of_single_rooted_teeth",
        what="centre of resistance over the embedded root: distance from 0.33 to 0.42",
        code="fem.support.rigid_body_support, fem.resistance.textbook_depth_mm",
        kind=Kind.VALIDATION,
        source="papageorgiou_2005",
        place="review: 33 to 42 % of the root from the crest; all single-rooted teeth, both ways",
        tolerance=0.0,
        reason="a value lies in the range or it does not",
        compute=models.each_single_root,
        slow=True,
    ),
    Check(
        id="labial_movement_at_usual_thickness",
        what="crown of an upper central incisor under 0.39 N: distance from 12 to 133 µm",
        code="fem.nonlinear_support.unit_at_rest, fem.bilinear.BilinearLaw",
        kind=Kind.VALIDATION,
        source="jones",
        place="abstract: 12 to 133 µm in ten volunteers; three bilinear laws, 0.2 mm thick",
        tolerance=0.0,
        reason="a value lies in the range or it does not",
        compute=models.labial_at_usual_thickness,
        slow=True,
    ),
    Check(
        id="trends_with_bone_loss",
        what="changes with each 4 mm of bone loss against the published trends, mm",
        code="fem.resistance.textbook_depth_mm, fem.resistance.rotation_centre_depth_mm",
        kind=Kind.VALIDATION,
        source="geramy",
        place="abstract: centre nearer to the crest, M/F for translation up, tipping centre of "
        "rotation towards the cervix, 1 to 8 mm of loss (finite elements)",
        tolerance=0.0,
        reason="a trend is met or it is not",
        compute=models.loss_steps,
        slow=True,
    ),
    Check(
        id="root_areas",
        what="published root areas: distance from the band of the model's, over them",
        code="geometry.tooth.tooth_surface",
        kind=Kind.VALIDATION,
        source="jepsen",
        place="six of fourteen teeth; Mowry et al. 2002 for the lower premolars too",
        tolerance=0.0,
        reason="the ranges overlap or they do not",
        compute=teeth.areas_compared,
    ),
    mechanics.NUMBERS_CHECK,
)

PICTURES = (
    Picture(
        "measured_and_modelled",
        "Published measurements (blue) beside the model's bands under the published ranges of its "
        "inputs (orange), over the middle of the measured range. Grey: not explained. The table "
        "beside it says what was varied and why they differ.",
        lambda: measurement_table((*EXPLAINED, *mechanics.MATERIALS, *NOT_EXPLAINED)),
        interval_figure,
    ),
    Picture(
        "root_areas",
        "Published root areas (blue) beside the model's (orange) with roots tapering from a "
        "paraboloid to half an ellipsoid, over the middle of the published range. Grey: not "
        "explained.",
        lambda: measurement_table(teeth.AREAS),
        interval_figure,
    ),
)
