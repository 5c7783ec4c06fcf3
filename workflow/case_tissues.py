"""Config models of the tissues: ligament, bone, and how finely they are meshed."""

from typing import Annotated, Any

from pydantic import Field, StrictBool

from workflow.case_keys import PRACTICE, Part, key, row
from workflow.values import Number, Whole

CREST: dict[str, Any] = {"ge": 0, "le": 16}  # below the shortest published root
MARGIN: dict[str, Any] = {"unit": "mm", "source": PRACTICE, "ge": 0.5, "le": 20}
Tissue = Annotated[str, row("hard_tissues")]
Thickness = Annotated[Number, Field(ge=0.05, le=1)]


class LigamentPart(Part):
    """The periodontal ligament as a bonded layer."""

    law: Annotated[str, row("ligaments")] = key(
        "Row of configs/catalogue/ligaments.yaml",
        "poppe_2002_stiff",
        source="Poppe, Bourauel and Jäger 2002, J Orofac Orthop 63:358-370",
    )
    thickness_mm: Number = key(
        "Thickness of the layer",
        0.20,
        "mm",
        "Wilding, Applied Oral Physiology (about 0.2 mm); usual in finite-element work",
        ge=0.05,
        le=1,
    )
    profile_mm: tuple[Thickness, Thickness, Thickness] | None = key(
        "Thickness at the crest, at mid-root and at the apex, instead of thickness_mm",
        None,
        "mm",
        "Hourglass, as 0.20, 0.14, 0.19 mm at 32 to 52 years: Coolidge 1937 (from memory)",
    )
    layers: Whole = key("Layers of elements across the thickness", 2, "1", PRACTICE, ge=1, le=4)
    bilinear_law: Annotated[str, row("bilinear_ligaments")] = key(
        "Row of configs/catalogue/bilinear_ligaments.yaml, for the movement beside the linear one",
        "poppe_2002",
        source="Poppe, Bourauel and Jäger 2002, J Orofac Orthop 63:358-370",
    )
    youngs_modulus_MPa: Number | None = key(
        "Young's modulus instead of that of the law", None, "MPa", gt=0, le=1000
    )
    poisson_ratio: Number | None = key(
        "Poisson's ratio instead of that of the law", None, "1", ge=0, le=0.499
    )


class CrestBySide(Part):
    """Bone level at the four sides of a tooth; between them the crest is a smooth saddle."""

    mesial_mm: Number = key("Depth of the crest below the cervix, mesially", unit="mm", **CREST)
    distal_mm: Number = key("The same distally", unit="mm", **CREST)
    buccal_mm: Number = key("The same buccally", unit="mm", **CREST)
    lingual_mm: Number = key("The same lingually", unit="mm", **CREST)


class ToothBody(Part):
    """What teeth are made of, where they are elastic."""

    elastic: StrictBool = key(
        "Whether teeth deform; if so the load enters spread over the crown", False, source=PRACTICE
    )
    dentine: Tissue = key("Row of configs/catalogue/hard_tissues.yaml", "dentine")
    enamel: Tissue = key("Row of configs/catalogue/hard_tissues.yaml", "enamel")
    enamel_mm: Number | None = key(
        "Thickness of the enamel cap, as 1.0; left out, the crown is dentine throughout",
        None,
        "mm",
        PRACTICE,
        ge=0.3,
        le=2.5,
    )


class Bone(Part):
    """The alveolar bone around all teeth; single teeth may differ, see ``teeth``."""

    crest_depth_mm: Number = key(
        "Depth of the bone crest below the cervix",
        1.5,
        "mm",
        "Healthy crest 1 to 2 mm below the cervix (from memory)",
        **CREST,
    )
    elastic: StrictBool = key(
        "Whether bone deforms; if so a block of it around each socket is meshed",
        False,
        source=PRACTICE,
    )
    cortical: Tissue = key("Row of configs/catalogue/hard_tissues.yaml", "cortical")
    cancellous: Tissue = key("Row of configs/catalogue/hard_tissues.yaml", "cancellous")
    mesial_margin_mm: Number = key(
        "Bone from the socket to the mesial face of the block, which is held", 4.0, **MARGIN
    )
    distal_margin_mm: Number = key("The same distally", 4.0, **MARGIN)
    buccal_plate_mm: Number = key(
        "Least thickness of bone buccal of the socket; that face is free", 1.5, **MARGIN
    )
    lingual_plate_mm: Number = key("The same lingually", 3.0, **MARGIN)
    apical_depth_mm: Number = key("Bone beyond the apex; that face is held", 6.0, **MARGIN)
    cortical_mm: Number = key(
        "Thickness of the cortical shell on the buccal, lingual and crestal face", 1.5, **MARGIN
    )


class MeshPart(Part):
    """Fineness of the tooth meshes."""

    root_size_mm: Number = key("Element size on the root", 0.55, "mm", PRACTICE, ge=0.2, le=2)
