"""A small case with its records, for tests of its sheet; the numbers are invented."""

from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from workflow.case_teeth import ToothPart
from workflow.sheet_records import SheetRecords

ANATOMICAL = {
    "extrusion_um": 2.0,
    "mesial_um": -1.04,
    "buccal_um": -0.06,
    "mesial_tip_mrad": -2.06,
    "buccal_tip_mrad": -0.39,
    "mesial_in_mrad": 0.28,
}
STRESS = {"p01": -12.2, "p50": 0.3, "p99": 13.8, "min": -17.1, "max": 22.0}
WARNING = "yield exceeded: the wire is stressed to 1.20 of its yield strength (limit 1)."
REASON = "not measured: the tooth is scanned"
PIXEL = bytes.fromhex("89504e470d0a1a0a")
FIGURES = (
    "free_body",
    "appliance_3d",
    "movement",
    "wire_deflection",
    "force_activation",
    "ligament_stress",
    "mesh_section",
)


def unit_of(teeth: list[int], role: str, contact: str, sign: float) -> dict[str, Any]:
    couple = [-11.0, 4.0, 0.0] if contact == "two-point" else [0.0, 0.0, 0.0]
    unmeasured = {"hydrostatic_percent": None, "von_mises_percent": None, "reason": REASON}
    ligament = {"hydrostatic_kPa": STRESS, "von_mises_kPa": STRESS, "mesh_error": unmeasured}
    return {
        "teeth": teeth,
        "role": role,
        "contact": contact,
        "force_N": [0.0, 0.0, 0.5 * sign],
        "moment_at_attachment_Nmm": couple,
        "moment_at_resistance_Nmm": [-13.0, 4.0, 0.0],
        "resistance_centre_mm": [28.0, 32.0, -13.0],
        "centre_of_rotation_mm": [28.0, 33.0, -13.0],
        "moment_to_force_mm": 27.2,
        "displacement_at_resistance_um": [0.0, 1.0, 2.0],
        "rotation_mrad": [-2.0, 0.0, 0.5],
        "mesh_error": {
            "displacement_percent": None,
            "rotation_percent": None,
            "resistance_centre_mm": None,
            "reason": REASON,
            "teeth": {
                str(tooth): {"stiffness_percent": None, "resistance_centre_mm": None}
                for tooth in teeth
            },
        },
        "anatomical": {key: sign * value for key, value in ANATOMICAL.items()},
        "movement_by_tooth": {
            str(tooth): {
                "anatomical": {key: sign * value for key, value in ANATOMICAL.items()},
                "mid_crown": {"extrusion_um": 2.0, "mesial_um": -17.0 * sign, "buccal_um": 0.5},
            }
            for tooth in teeth
        },
        "ligament": {str(tooth): ligament for tooth in teeth},
    }


BILINEAR = {
    "law": {
        "name": "poppe_2002",
        "initial_MPa": 0.05,
        "stiff_MPa": 0.28,
        "knee_strain": 0.075,
        "poisson_ratio": 0.3,
    },
    "units": {"molar": {"anatomical": ANATOMICAL, "largest_strain": 0.249}},
}

CURVE = {
    "working_point": {
        "activation_mm": 5.8,
        "force_N": 0.5,
        "couple_Nmm": 11.7,
        "stress_MPa": 625.0,
    },
    "first_yield": {"activation_mm": 7.91, "force_N": 0.7, "couple_Nmm": 15.0, "stress_MPa": 830.0},
    "band": {"share": 0.25, "lower": {"activation_mm": 4.5}, "upper": {"activation_mm": 7.12}},
    "rate_N_per_mm": 0.09,
    "rate_gf_per_mm": 9.18,
    "linear_theory": {"rate_N_per_mm": 0.1, "rate_gf_per_mm": 10.2},
    "superelastic": False,
    "history": None,
    "curve_end_mm": 8.7,
}


# What a sheet says of its scenes, without bodies to draw; `tests.scenes` has some.
def _scenes(units: dict[str, Any]) -> dict[str, Any]:
    field = {"min": -12.2, "max": 13.8}
    return {
        "scale": {"bar_N": 0.5, "bar_Nmm": 5.0},
        "movement": {"factor": 50.0, "largest_mm": 0.0307},
        "parts": [],
        "loads": [
            {"kind": "force", "unit": "molar", "size": 0.5},
            {"kind": "couple", "unit": "molar", "size": 11.7047},
            {"kind": "force", "unit": "segment", "size": 0.5},
        ],
        "units": [
            {"name": name, "teeth": unit["teeth"], "anatomical": unit["anatomical"]}
            for name, unit in units.items()
        ],
        "teeth": [
            {"number": tooth, "unit": name, "hydrostatic_kPa": field}
            for name, unit in units.items()
            for tooth in unit["teeth"]
        ],
    }


def example_records() -> SheetRecords:
    """Records of a molar on an anchor of two teeth, without error bars and warnings."""
    summary = {
        "case": "example",
        "warnings": [],
        "wire": {
            "length_mm": 23.3,
            "activation_mm": [0, 0, 5.8],
            "force_N": [0.0, 0.0, -0.5],
            "couple_Nmm": [-11.0, 4.0, 0.0],
            "contact_forces_N": [2.7, 3.2],
            "peak_stress_MPa": 625.0,
            "yield_ratio": 0.75,
            "permanent_set_mm": 0.0,
            "linear_theory": {"force_N": 0.55, "couple_Nmm": 12.0},
            "linear_as_bent": {"force_N": 0.54, "couple_Nmm": 11.9},
            "play": None,
            "friction": None,
            "mesh_error": {"stiffness_percent": 0.0005, "reason": None},
        },
        "units": {
            "molar": unit_of([37], "target", "two-point", 1.0),
            "segment": unit_of([35, 34], "anchor", "one-point", -1.0),
        },
    }
    case = {
        "title": "An example",
        "teeth": {t: ToothPart(crest_depth_mm=1.5).model_dump() for t in ("37", "35", "34")},
        "missing": [36],
        "units": {
            "molar": {
                "teeth": [37],
                "role": "target",
                "joined_by": None,
                "support": "ligament",
            },
            "segment": {
                "teeth": [35, 34],
                "role": "anchor",
                "joined_by": None,
                "support": "ligament",
            },
        },
        "mirror_image": False,
        "further": [],
        "two_point": {"unit": "molar", "tooth": 37, "tube_length_mm": 4.0, "slot": None},
        "one_point": {
            "unit": "segment",
            "between": [34, 35],
            "tooth": None,
            "contact": "bar",
            "friction": 0.0,
        },
        "wire": {
            "alloy": {
                "name": "beta_titanium",
                "youngs_modulus_MPa": 65000.0,
                "yield_strength_MPa": 830.0,
                "superelastic": None,
            },
            "section": {"name": "r", "shape": "round", "height_mm": 0.4, "width_mm": 0.4},
            "activation": {
                "offset_mm": None,
                "couple_Nmm": 11.7,
                "force_N": None,
                "pulls": "apical",
                "trial_share": 1.0,
            },
            "inelastic": True,
            "span_mm": None,
        },
        "ligament": {
            "law": "poppe_2002_stiff",
            "source": "Poppe 2002",
            "youngs_modulus_MPa": 0.28,
            "poisson_ratio": 0.3,
            "thickness_mm": 0.2,
            "profile_mm": None,
        },
        "tooth_body": {"elastic": False},
        "bone": {"crest_depth_mm": 1.5, "elastic": False},
    }
    region = {"elements": 100, "gamma_min": 0.2, "gamma_median": 0.6, "volume_mm3": 12.5}
    support = {
        "mesh": [region | {"region": "tooth"}, region | {"region": "ligament"}],
        "stiffness": np.diag([100.0, 110.0, 50.0, 1e3, 1e3, 1e3]).tolist(),
        "thin_layer": {"difference_percent": [1.2, -0.4, 2.0, 0.0, 0.0, 0.0]},
        "resistance": {
            "depth_fraction_of_embedded_root": {"mesiodistal": 0.4, "buccolingual": 0.41},
            "coupling_mm": 0.07,
        },
        "unknowns": 300,
    }
    check = {
        "id": "force_balance",
        "what": "sum of forces",
        "computed": 1e-14,
        "reference": 0.0,
        "relative_error": 1e-14,
        "tolerance": 1e-8,
        "passed": True,
        "source": "statics",
    }
    provenance = {
        "code": {"version": "0.1.0", "commit": "abc"},
        "stages": {"supports": {"37": "s"}, "wire": "w", "code": {"wire_rod": "c"}},
        "python": "3.11",
        "platform": "any",
        "libraries": {"numpy": "2.1.0"},
    }
    solved = {
        "offset_mm": 5.8,
        "span_mm": 18.8,
        "tube": {"middle_mm": [32.0, 27.0, -4.0]},
        "hook": {"touch_mm": [24.0, 8.0, -4.0]},
        "bend_deg": 27.0,
        "wire": {
            "as_bent": {
                "parts": [
                    {"part": part, "words": words, "arcs": [{"length_mm": length}]}
                    for part, words, length in (
                        ("run in the tube", "", 4.0),
                        ("bend at the tube", "", 0.5),
                        ("helix", "1 turn", 8.0),
                        ("last run", "", 15.0),
                    )
                ]
            }
        },
        "past_limit": None,
        "friction": None,
    }
    supports = dict.fromkeys((37, 35, 34), support)
    return SheetRecords(
        case=case,
        summary=summary,
        solved=solved,
        bilinear=BILINEAR,
        provenance=provenance,
        supports=supports,
        checks=pd.DataFrame([check]),
        curve=CURVE,
        scenes=_scenes(summary["units"]),
    )


def example_figures(folder: Path) -> dict[str, str]:
    """Files that stand for the figures of a case."""
    paths = {name: folder / f"{name}.png" for name in FIGURES}
    paths["bench_template"] = folder / "bench_template.pdf"
    for path in paths.values():
        path.write_bytes(PIXEL)
    return {name: str(path) for name, path in paths.items()}


class Page(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] not in {"style", "script"}:
            self.texts.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag not in {"span", "strong", "a"}:
            self.texts.append(" ")

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())
