"""The catalogue: alloys, sections and ligament laws, each value with its source.

The rows live in ``configs/catalogue``; these models say what a row must hold.
"""

from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from workflow.case_errors import CaseError, translate
from workflow.values import Number
from workflow.yaml_files import read_mapping

CATALOGUE = Path(__file__).resolve().parents[1] / "configs" / "catalogue"
MM_PER_INCH = 25.4

Certainty = Literal["read", "memory_high", "memory_medium", "derived", "assumed"]
PoissonRatio = Annotated[Number, Field(ge=0, lt=0.5)]
Range = tuple[Annotated[Number, Field(gt=0)], Annotated[Number, Field(gt=0)]]


class Row(BaseModel):
    """What every catalogue row states beside its values."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    source: str = Field(min_length=3, description="Publication or definition of the values")
    certainty: Certainty = Field(description="How the values were taken from the source")
    notes: str = Field(default="", description="What to know before using the row")


class Alloy(Row):
    """Elastic values of a wire alloy.

    Attributes
    ----------
    youngs_modulus_MPa, yield_strength_MPa
        Working values, inside the ranges beside them, MPa.
    poisson_ratio
        Poisson's ratio.
    """

    youngs_modulus_MPa: Number = Field(gt=0, description="Young's modulus, MPa")
    youngs_modulus_range_MPa: Range = Field(description="Lowest and highest published, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")
    yield_strength_MPa: Number = Field(gt=0, description="0.1 to 0.2 % yield strength, MPa")
    yield_strength_range_MPa: Range = Field(description="Lowest and highest published, MPa")

    @model_validator(mode="after")
    def _inside_ranges(self) -> Self:
        for name in ("youngs_modulus", "yield_strength"):
            low, high = getattr(self, f"{name}_range_MPa")
            if not low <= getattr(self, f"{name}_MPa") <= high:
                raise ValueError(f"{name}_MPa lies outside {name}_range_MPa")
        return self


class Section(Row):
    """Cross-section of a wire by nominal size; a round wire has height = width = diameter."""

    shape: Literal["round", "rectangular"] = Field(description="Shape of the section")
    height_in: Number = Field(gt=0, lt=0.1, description="Occluso-gingival size, inch")
    width_in: Number = Field(gt=0, lt=0.1, description="Bucco-lingual size, inch")

    @property
    def height_mm(self) -> float:
        """Occluso-gingival size, mm."""
        return round(self.height_in * MM_PER_INCH, 10)

    @property
    def width_mm(self) -> float:
        """Bucco-lingual size, mm."""
        return round(self.width_in * MM_PER_INCH, 10)

    @model_validator(mode="after")
    def _round_is_round(self) -> Self:
        if self.shape == "round" and self.height_in != self.width_in:
            raise ValueError("a round section has height_in equal to width_in")
        return self


class Ligament(Row):
    """Linear elastic values of the periodontal ligament."""

    youngs_modulus_MPa: Number = Field(gt=0, description="Young's modulus, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")


class HardTissue(Row):
    """Linear elastic values of dentine, enamel or bone."""

    youngs_modulus_MPa: Number = Field(gt=0, description="Young's modulus, MPa")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio")


class BilinearLigament(Row):
    """Bilinear values of the periodontal ligament."""

    initial_MPa: Number = Field(gt=0, description="Young's modulus below the knee, MPa")
    stiff_MPa: Number = Field(gt=0, description="Young's modulus beyond the knee, MPa")
    knee_strain: Number = Field(gt=0, lt=1, description="Strain of the knee")
    poisson_ratio: PoissonRatio = Field(description="Poisson's ratio of both branches")


class Catalogue(BaseModel):
    """All rows that a case may name."""

    model_config = ConfigDict(frozen=True)

    alloys: dict[str, Alloy]
    sections: dict[str, Section]
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
    rows, problems = {}, []
    for name, values in read_mapping(path).items():
        try:
            rows[str(name)] = row.model_validate(values)
        except ValidationError as error:
            problems += translate(error, row, f"{path}: {name}")
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
        "ligaments": Ligament,
        "bilinear_ligaments": BilinearLigament,
        "hard_tissues": HardTissue,
    }
    tables = {name: read_rows(folder / f"{name}.yaml", row) for name, row in kinds.items()}
    return Catalogue.model_validate(tables)
