"""Two invented cases to compare: the same couple from a hook further away, with less force."""

from copy import deepcopy
from dataclasses import replace

import numpy as np

from tests.sheet_example import CURVE, example_records
from workflow.comparison_records import ComparedCase
from workflow.figures_view import PlacedTooth, split_at_zero
from workflow.plan import frames

NASTY = "hook <b>far</b> & \"away\" </script><script>alert('x')</script>"
LABELS = ("hook near", NASTY)
QUESTION = f"Is it {NASTY}?"
COUPLE_NMM = 12.0
WARNINGS = (
    [],
    [
        "wire deforms: it keeps a set of <i>0.3</i> mm.",
        "force below the stated range: 1.20 N (122 gf).",
    ],
)
TUBE = np.array([32.0, 27.0, -4.0])
_RING = np.array([[4.0, 0, -1], [0, 4, -1], [-4, 0, -1], [0, -4, -1]])


def compared(label: str, force_N: float, *, name: str, hook: tuple[float, ...]) -> ComparedCase:
    """A case whose hook lies where statics asks for the force."""
    records = deepcopy(example_records())
    case, summary, solved = records.case, records.summary, records.solved
    case["wire"]["alloy"]["source"] = case["wire"]["section"]["source"] = "invented"
    case["wire"]["section"]["name"] = "round_0.016_in"
    case["one_point"]["between"] = [34, 35] if name == "near" else [33, 34]
    case |= {"case": name, "title": f"Case {name}"}
    force, couple = np.array([0.0, 0.0, -force_N]), np.array([-COUPLE_NMM, 0.0, 0.0])
    summary["case"] = name
    summary["wire"] |= {
        "alloy": "beta_titanium",
        "section": "round_0.016_in",
        "span_mm": float(np.linalg.norm(np.array(hook) - TUBE)),
        "lever_arm_mm": COUPLE_NMM / force_N,
        "force_N": force.tolist(),
        "couple_Nmm": couple.tolist(),
    }
    for unit, share in zip(summary["units"].values(), (1.0, force_N), strict=True):
        unit["displacement_at_resistance_um"] = [0.0, 3.0 * share, 4.0 * share]
        unit["mesh_error"] |= {"displacement_percent": 2.5, "rotation_percent": 1.5, "reason": None}
    hold = {"molar": (TUBE, -force, couple), "segment": (np.array(hook), force, np.zeros(3))}
    for unit, (_, push, turn) in hold.items():
        summary["units"][unit]["force_N"] = push.tolist()
        summary["units"][unit]["moment_at_attachment_Nmm"] = turn.tolist()
    bend = np.linspace(0, 1, 9)[:, None]
    engaged = TUBE + bend * (np.array(hook) - TUBE)
    solved["tube"] |= {"mouths_mm": [(TUBE + np.array([0.0, y, 0.0])).tolist() for y in (2, -2)]}
    solved["hook"] |= {"touch_mm": list(hook), "bracket_mm": None}
    solved["wire"] |= {
        "engaged_mm": engaged.tolist(),
        "passive_mm": (engaged - bend**2 * [0, 0, 6.0]).tolist(),
    }
    solved["units"] = {unit: {"attachment_mm": at.tolist()} for unit, (at, _, _) in hold.items()}
    solved["contacts"] = [
        {"unit": unit, "point_mm": at.tolist(), "wrench": [*push, *turn]}
        for unit, (at, push, turn) in hold.items()
    ]
    teeth = [
        _tooth(number, unit, case)
        for unit, numbers in (("molar", [37]), ("segment", [35, 34]))
        for number in numbers
    ]
    return ComparedCase(label, case, summary, deepcopy(CURVE), solved, records.provenance, teeth)


def compared_cases() -> list[ComparedCase]:
    """The cases; the second is labelled with all that a page must escape."""
    near = compared(LABELS[0], 0.6, name="near", hook=(24.0, 8.0, -4.0))
    far = compared(LABELS[1], 0.4, name="far", hook=(20.0, -3.0, -4.0))
    found = [near, far]
    for one, warned in zip(found, WARNINGS, strict=True):
        one.summary["warnings"] = list(warned)
    return found


def many_cases(count: int) -> list[ComparedCase]:
    """More cases than fit beside each other."""
    near, far = compared_cases()
    return [near, *(replace(far, label=f"case {i}, further forward") for i in range(1, count))]


def _tooth(number: int, unit: str, case: dict) -> PlacedTooth:
    frame = frames(case)[number]
    local = np.vstack([_RING, [[0, 0, 7.0]], [[0, 0, -14.0]]])
    around = [(i, (i + 1) % 4) for i in range(4)]
    triangles = np.array([(a, b, 4) for a, b in around] + [(b, a, 5) for a, b in around])
    points, crown, root = split_at_zero(local, triangles, local[:, 2])
    return PlacedTooth(number, unit, frame, frame.to_patient(points), crown, root)
