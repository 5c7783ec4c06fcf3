"""Caption and alternative text of the figures of a case, with its own numbers."""

from __future__ import annotations

import numpy as np

from workflow.course_words import course_texts
from workflow.figures import couple_text, force_text
from workflow.figures_force_activation import curve_texts
from workflow.sheet_answer import answer
from workflow.sheet_records import SheetRecords
from workflow.specs import Spec


def figure_texts(records: SheetRecords) -> dict[str, tuple[str, str]]:
    """Alternative text and caption of each figure."""
    summary = records.summary
    force = force_text(float(np.linalg.norm(summary["wire"]["force_N"])), " ")
    couple = couple_text(float(np.linalg.norm(summary["wire"]["couple_Nmm"])), " ")
    tooth = str(records.case["two_point"]["tooth"])
    unit = summary["units"][records.case["two_point"]["unit"]]
    stress = unit["ligament"][tooth]["hydrostatic_kPa"]
    linear = summary["wire"]["linear_theory"]["force_N"]
    moves = " ".join(answer(summary))
    ligament = (
        f"hydrostatic stress on the ligament of tooth {tooth} from {stress['min']:.1f} kPa "
        f"(compression) to {stress['max']:.1f} kPa (tension)"
    )
    elements = sum(region["elements"] for region in records.supports[int(tooth)]["mesh"])
    roles = {name: unit["role"] for name, unit in summary["units"].items()}
    return {
        **({} if records.course is None else {"course": course_texts(records.course, roles)}),
        "free_body": (
            f"Free-body diagram: the wire between the two units, with a force of {force} at each "
            f"attachment, opposite on the two units, and a couple of {couple} at the tube; the "
            "loads on the wire sum to zero.",
            f"Free bodies in the {_plane(records.case)}.",
        ),
        "appliance_3d": (
            f"Teeth, tube, hook and the wire, passive and engaged, in two views, with the force of "
            f"{force} on each unit and the couple of {couple} on tooth {tooth}.",
            "The appliance in space with the loads it exerts on the units.",
        ),
        "movement": (
            f"Outlines of the units before and after their enlarged movement. {moves}",
            "Initial movement, enlarged by the printed factor; linear ligament.",
        ),
        "wire_deflection": (
            f"Force against activation of the straight wire by finite rotations and by linear "
            f"theory, and the deflected shapes; this case has {force}, linear theory "
            f"{linear:.3g} N.",
            "Force and shape of the straight wire by finite rotations and by linear theory.",
        ),
        "force_activation": curve_texts(records.curve),
        "ligament_stress": (
            f"Two views: {ligament}.",
            f"Hydrostatic stress on the ligament of tooth {tooth}; tension positive. Element "
            "means; the table has the values at quadrature points.",
        ),
        "mesh_section": (
            f"Cut through the mesh of tooth {tooth}, {elements} elements, with the layers of the "
            "ligament enlarged.",
            f"Mesh of tooth {tooth}, cut in its mesiodistal plane.",
        ),
        "bench_template": (
            "The passive wire in true size, in three views, with a bar of 50 mm.",
            "Bench template (print at 100 %)",
        ),
    }


def _plane(case: Spec) -> str:
    """Plane of the free-body diagram in words."""
    if case["wire"]["activation"]["pulls"] in ("buccal", "lingual"):
        return "horizontal plane, seen from occlusal"
    return "mesiodistal vertical plane, seen from buccal"
