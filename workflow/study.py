"""The study of supports: its config models, and the supports it is about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Self, TypeVar

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from geometry.anatomy import known_teeth
from workflow.case import default_tissues
from workflow.case_errors import CaseError
from workflow.case_keys import Part, key
from workflow.specs import Spec
from workflow.tooth_specs import support_spec
from workflow.validation import examine
from workflow.values import Line, Name, Number, Tooth
from workflow.yaml_files import reading


def _known(tooth: int) -> int:
    if tooth not in known_teeth():
        listed = ", ".join(map(str, known_teeth()))
        text = f"no published dimensions of this tooth; choose one of {listed}"
        raise PydanticCustomError("no_dimensions", "{text}", {"text": text})
    return tooth


Study = TypeVar("Study", bound=Part)

KnownTooth = Annotated[Tooth, AfterValidator(_known)]
Ratio = Annotated[Number, Field(ge=0, le=0.499)]
Modulus = Annotated[Number, Field(gt=0, le=1000)]  # MPa, as of a ligament in a case
Movement = Annotated[Number, Field(gt=0, le=5000)]  # µm, of a crown
Lever = Annotated[Number, Field(ge=-200, le=200)]  # mm, a few times a jaw
Thickness = Annotated[Number, Field(ge=0.05, le=1)]


class ThinLayer(Part):
    """Teeth, Poisson's ratios and thicknesses at which thin-layer theory is tried."""

    teeth: tuple[KnownTooth, ...] = key("Teeth, ISO 3950 numbers", min_length=1)
    poisson_ratios: tuple[Ratio, ...] = key("Poisson's ratios", unit="1", min_length=2)
    thicknesses_mm: tuple[Thickness, ...] = key("Thicknesses", unit="mm", min_length=2)


class Rigidity(Part):
    """Teeth and ligament moduli at which tooth and bone are taken as rigid and as elastic."""

    teeth: tuple[KnownTooth, ...] = key("Teeth, ISO 3950 numbers", min_length=1)
    poisson_ratio: Ratio = key("Poisson's ratio of the ligament", unit="1")
    youngs_moduli_MPa: tuple[Modulus, ...] = key("Young's moduli", unit="MPa", min_length=2)


class Mobility(Part):
    """A force at the middle of a crown, and what was measured."""

    tooth: KnownTooth = key("The tooth, ISO 3950 number")
    force_N: Number = key("Buccal force", unit="N", gt=0, le=20)
    measured_um: tuple[Movement, Movement] = key("Least and most measured", unit="µm")
    source: str = key("Where the measurement is from", min_length=3)

    @model_validator(mode="after")
    def _least_before_most(self) -> Self:
        least, most = self.measured_um
        if least > most:
            text = f"measured_um must rise from least to most; found {least:g}, {most:g}"
            raise PydanticCustomError("range_order", "{text}", {"text": text})
        return self


class Rotation(Part):
    """Teeth and moment-to-force ratios, couple and force at mid-crown."""

    teeth: tuple[KnownTooth, ...] = key("Teeth, ISO 3950 numbers", min_length=1)
    moment_to_force_mm: tuple[Lever, ...] = key("Couple over force", unit="mm", min_length=3)


class SupportStudy(Part):
    """The study of supports."""

    study: Name = key("Name of the study")
    title: Line = key("What it shows, in one line", min_length=1, max_length=200)
    thin_layer: ThinLayer = key("Finite elements against thin-layer theory")
    rigidity: Rigidity = key("Rigid against elastic tooth and bone")
    mobility: Mobility = key("A light force at mid-crown, as measured in the mouth")
    rotation: Rotation = key("Centre of rotation against the moment-to-force ratio")


def read_study(path: str | Path, model: type[Study]) -> Study:
    """Read and check the file of a study.

    Raises
    ------
    CaseError
        If anything is wrong; all problems at once, one line each.
    """
    path = Path(path)
    with reading(path) as content:
        found = examine(model, {str(name): value for name, value in content.items()}, str(path))
        if found.whole is None:
            raise CaseError(found.problems)
        return found.whole


def load_support_study(path: str | Path) -> SupportStudy:
    """Read and check the file of the study of supports; see `read_study`."""
    return read_study(path, SupportStudy)


def default_specs() -> dict[int, Spec]:
    """Support spec of every tooth with known dimensions, all settings at their defaults."""
    teeth = known_teeth()
    case = default_tissues(teeth)
    return {tooth: support_spec(case, tooth) for tooth in teeth}
