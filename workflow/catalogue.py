"""The catalogue: alloys, sections, attachments, tissue values, each with its source.

Bounds of moduli and strengths are wide: they catch a value in GPa or Pa, not a new material.

The rows live in ``configs/catalogue``; these models say what a row must hold.
"""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from fem.uniaxial import Superelastic
from workflow.case_errors import CaseError, Problem, translate
from workflow.units import MM_PER_INCH
from workflow.values import Number
from workflow.yaml_files import reading

CATALOGUE = Path(__file__).resolve().parents[1] / "configs" / "catalogue"
_SIZES = frozenset({"height_in", "width_in", "height_mm", "width_mm"})

Certainty = Literal["read", "memory_high", "memory_medium", "derived", "assumed"]
PoissonRatio = Annotated[Number, Field(ge=0, lt=0.5)]
Range = tuple[Annotated[Number, Field(gt=0)], Annotated[Number, Field(gt=0)]]


class Row(BaseModel):
    """What every catalogue row states beside its values."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    source: str = Field(min_length=3, description="Publication or definition of the values")
    certainty: Certainty = Field(description="How the values were taken from the source")
    notes: str = Field(default="", description="What to know before using the row")


class SuperelasticValues(BaseModel):
    """Plateaus of a superelastic wire at mouth temperature; keys as in `fem.uniaxial.Superelastic`.

    The modulus of austenite is the alloy's ``youngs_modulus_MPa``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    martensite_modulus_MPa: Number = Field(
        gt=0, le=500_000, description="Modulus of martensite, MPa"
    )
    loading_start_MPa: Number = Field(
        gt=0, le=5000, description="Start of the loading plateau, MPa"
    )
    loading_finish_MPa: Number = Field(gt=0, le=5000, description="End of the loading plateau, MPa")
    unloading_start_MPa: Number = Field(
        gt=0, le=5000, description="Start of the unloading plateau, MPa"
    )
    unloading_finish_MPa: Number = Field(
        gt=0, le=5000, description="End of the unloading plateau, MPa"
    )
    transformation_strain: Number = Field(gt=0, lt=0.15, description="In tension, uniaxial")
    compression_stress_ratio: Number = Field(
        default=1.0, ge=0.5, le=2, description="Plateau stresses in compression over tension"
    )
    compression_strain_ratio: Number = Field(
        default=1.0, ge=0.5, le=2, description="Transformation strain in compression over tension"
    )


class Alloy(Row):
    """Values of a wire alloy along the wire.

    Attributes
    ----------
    youngs_modulus_MPa, yield_strength_MPa
        Working values, inside the ranges beside them, MPa. The second is the stress up to which
        the wire answers linearly: 0.1 to 0.2 % proof strength, or the start of the loading plateau.
    poisson_ratio
        Poisson's ratio.
    hardening_modulus_MPa
        Slope of stress against plastic strain. 0 is perfectly plastic: no published value was found
        for these wires, and 0 gives the least springback a wire of this strength can have.
    superelastic
        Plateaus, of an alloy that has them.
    """

    youngs_modulus_MPa: Number = Field(ge=5000, le=500_000, description="Young's modulus, MPa")
    youngs_modulus_range_MPa: Range = Field(description="Lowest and highest published, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")
    yield_strength_MPa: Number = Field(ge=50, le=5000, description="End of the linear answer, MPa")
    yield_strength_range_MPa: Range = Field(description="Lowest and highest published, MPa")
    hardening_modulus_MPa: Number = Field(
        default=0.0, ge=0, le=100_000, description="Plastic slope, MPa"
    )
    superelastic: SuperelasticValues | None = Field(default=None, description="Plateaus")

    @model_validator(mode="after")
    def _inside_ranges(self) -> Self:
        for name in ("youngs_modulus", "yield_strength"):
            low, high = getattr(self, f"{name}_range_MPa")
            if not low <= getattr(self, f"{name}_MPa") <= high:
                raise ValueError(f"{name}_MPa lies outside {name}_range_MPa; correct one")
        return self

    @model_validator(mode="after")
    def _one_law(self) -> Self:
        if self.superelastic is None:
            return self
        if self.hardening_modulus_MPa:
            raise ValueError(
                "hardening_modulus_MPa belongs to a wire that yields; drop it beside superelastic"
            )
        if self.yield_strength_MPa != self.superelastic.loading_start_MPa:
            raise ValueError(
                "yield_strength_MPa differs from superelastic.loading_start_MPa, up to which the "
                "wire answers linearly; write the same value"
            )
        Superelastic(self.youngs_modulus_MPa, **self.superelastic.model_dump())
        return self


class Section(Row):
    """Cross-section of a wire by nominal size; a round wire has height = width = diameter.

    Sizes are given in inch or in mm, both in the same unit; those in inch are put into mm.
    """

    shape: Literal["round", "rectangular"] = Field(description="Shape of the section")
    height_in: Number | None = Field(default=None, description="Occluso-gingival size, inch")
    width_in: Number | None = Field(default=None, description="Bucco-lingual size, inch")
    height_mm: Number = Field(gt=0, lt=2.54, description="Occluso-gingival size, mm")
    width_mm: Number = Field(gt=0, lt=2.54, description="Bucco-lingual size, mm")
    corner_radius_mm: Number = Field(default=0.0, ge=0, description="Radius of the edges, mm")

    @model_validator(mode="before")
    @classmethod
    def _one_unit(cls, values: Any) -> Any:
        if not isinstance(values, dict):
            return values
        given = _SIZES.intersection(values)
        if given not in ({"height_in", "width_in"}, {"height_mm", "width_mm"}):
            raise ValueError(
                "the size must be given once; write height_in and width_in, or height_mm and "
                "width_mm"
            )
        return values | {
            name.replace("_in", "_mm"): round(values[name] * MM_PER_INCH, 10)
            for name in given
            if name.endswith("_in") and isinstance(values[name], int | float)
        }

    @model_validator(mode="after")
    def _shape_fits(self) -> Self:
        if self.shape == "round" and self.height_mm != self.width_mm:
            raise ValueError("a round section has its height equal to its width; correct one")
        if self.shape == "round" and self.corner_radius_mm:
            raise ValueError("corner_radius_mm belongs to a rectangular section; drop it")
        if self.corner_radius_mm > min(self.height_mm, self.width_mm) / 2:
            raise ValueError("corner_radius_mm is more than half the smaller side; make it smaller")
        return self


class Attachment(Row):
    """Slot of a tube or bracket: its inner size and the distance of its two mouths."""

    kind: Literal["tube", "bracket"] = Field(description="Tube, or bracket with an open slot")
    slot_height_mm: Number = Field(ge=0.3, le=1.5, description="Occluso-gingival size, mm")
    slot_width_mm: Number = Field(ge=0.3, le=1.5, description="Bucco-lingual size (depth), mm")
    length_mm: Number = Field(ge=0.5, le=12, description="Bracket width or tube length, mm")


class Ligament(Row):
    """Linear elastic values of the periodontal ligament."""

    youngs_modulus_MPa: Number = Field(gt=0, le=1000, description="Young's modulus, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")


class HardTissue(Row):
    """Linear elastic values of dentine, enamel or bone."""

    youngs_modulus_MPa: Number = Field(gt=0, le=500_000, description="Young's modulus, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")


class BilinearLigament(Row):
    """Bilinear values of the periodontal ligament."""

    initial_MPa: Number = Field(gt=0, le=1000, description="Young's modulus below the knee, MPa")
    stiff_MPa: Number = Field(gt=0, le=1000, description="Young's modulus beyond the knee, MPa")
    knee_strain: Number = Field(gt=0, lt=1, description="Strain of the knee")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio of both branches")


class Catalogue(BaseModel):
    """All rows that a case may name."""

    model_config = ConfigDict(frozen=True)

    alloys: dict[str, Alloy]
    sections: dict[str, Section]
    attachments: dict[str, Attachment]
    ligaments: dict[str, Ligament]
    bilinear_ligaments: dict[str, BilinearLigament]
    hard_tissues: dict[str, HardTissue]


RowType = TypeVar("RowType", bound=Row)


def read_rows(path: Path, row: type[RowType]) -> dict[str, RowType]:
    """Read one catalogue file.

    Raises
    ------
    CaseError
        If the file or one of its rows is not as `row` demands; all rows are checked.
    """
    rows: dict[str, RowType] = {}
    problems: list[Problem] = []
    with reading(path) as content:
        for name, values in content.items():
            try:
                rows[str(name)] = row.model_validate(values)
            except ValidationError as error:
                for problem in translate(error, row, str(path)):
                    key = f"{name}.{problem.key}".rstrip(".")
                    problems.append(replace(problem, key=key))
        if problems:
            raise CaseError(problems)
    return rows


@lru_cache(maxsize=4)
def load_catalogue(folder: Path = CATALOGUE) -> Catalogue:
    """Read the catalogue files of a folder; read once, then kept.

    Raises
    ------
    CaseError
        If a file is missing or a row is not as its model demands.
    """
    kinds: dict[str, type[Any]] = {
        "alloys": Alloy,
        "sections": Section,
        "attachments": Attachment,
        "ligaments": Ligament,
        "bilinear_ligaments": BilinearLigament,
        "hard_tissues": HardTissue,
    }
    tables = {name: read_rows(folder / f"{name}.yaml", row) for name, row in kinds.items()}
    return Catalogue.model_validate(tables)
