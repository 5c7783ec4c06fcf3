"""A tooth and a bent wire that other programs solve too, and this project's answers.

Of the tooth the whole tooth and its ligament deform and the socket wall is held; it is loaded by
wrenches on its crown, whose traction varies like a rigid motion (see `fem.deformable`). The wire
is held over its whole first section and loaded by wrenches on its last, as tractions that are
uniform or vary evenly from its axis (see `fem.sweep_solid`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fem.deformable import deformable_support
from fem.elastic_model import HARD_TISSUE, LIGAMENT, ElasticModel, elastic_model
from fem.material import Elastic
from fem.section import rectangular_section
from fem.support import dimensionless
from fem.sweep_solid import WireSolid, tip_response, wire_solid
from geometry.anatomy import tooth_dimensions
from geometry.mesh import TetMesh
from geometry.tooth_mesh import ToothSpec, build_tooth
from geometry.wire_path import Bend, Straight, SweptWire, sweep

Array = NDArray[np.float64]

POINT = np.array([0.0, 0.0, -1.5])
RATIOS = (0.3, 0.45)
LOADED, HELD = "crown", "socket"
_TOOTH, _ROOT_SIZE_MM, _CROWN_SIZE_MM = 41, 1.1, 2.0
# In a ligament as soft as the default the tooth moves all but rigidly, and nothing else would show.
_LIGAMENT_MODULUS_MPa, _WIRE_MODULUS_MPa = 50.0, 200e3


@dataclass(frozen=True)
class Answer:
    """Small response to six unit forces and moments.

    Attributes
    ----------
    displacements
        At the vertices of the mesh, (vertices, 3, 6).
    compliance
        Mean motions where the loads enter, a column a load, (6, 6).
    """

    displacements: Array
    compliance: Array


@cache
def tooth_mesh() -> TetMesh:
    """A lower incisor and its ligament, coarse."""
    spec = ToothSpec(
        tooth_dimensions(_TOOTH), root_size_mm=_ROOT_SIZE_MM, crown_size_mm=_CROWN_SIZE_MM
    )
    return build_tooth(spec).mesh


def tooth_materials(poisson_ratio: float) -> Mapping[str, Elastic]:
    """Hard tissue as ever, and a ligament with that Poisson's ratio."""
    return {**HARD_TISSUE, LIGAMENT: Elastic(_LIGAMENT_MODULUS_MPa, poisson_ratio)}


@cache
def tooth_model() -> ElasticModel:
    """Numbering, supports and nodal loads of the tooth, for programs that are handed them."""
    return elastic_model(tooth_mesh(), POINT, elastic_tooth=True, elastic_bone=False)


@cache
def our_tooth(poisson_ratio: float) -> Answer:
    """Answer of this project, the dilatation taken as it is."""
    support = deformable_support(
        tooth_mesh(),
        tooth_materials(poisson_ratio),
        POINT,
        elastic_tooth=True,
        elastic_bone=False,
        volumetric="exact",
    )
    compliance = np.asarray(np.linalg.inv(support.stiffness))
    # Those of unit motions, from which those of unit wrenches follow.
    fields = support.displacements[:, tooth_model().vertices].transpose(1, 2, 0)
    return Answer(fields @ compliance, compliance)


@cache
def wire_path() -> SweptWire:
    """A wire with a bend of a right angle."""
    features = (Straight(1.2), Bend(np.pi / 2, 1.0, "height"), Straight(1.2))
    return sweep(features, np.zeros(3), np.eye(3), piece_mm=0.4, largest_turn_rad=0.2)


@cache
def wire_model(poisson_ratio: float) -> WireSolid:
    """The wire as 27-node hexahedra."""
    material = Elastic(_WIRE_MODULUS_MPa, poisson_ratio)
    return wire_solid(wire_path(), rectangular_section(0.4, 0.5), material)


@cache
def our_wire(poisson_ratio: float) -> Answer:
    """Answer of this project."""
    solid = wire_model(poisson_ratio)
    compliance, fields = tip_response(solid, "full")
    vertices = int(solid.swept.mesh.nvertices)
    return Answer(fields.reshape(-1, 3, 6)[:vertices], compliance)


def largest_difference(ours: Answer, peer: Answer) -> Array:
    """Largest difference of displacement over the largest displacement, for each load, (6,)."""
    apart = np.abs(ours.displacements - peer.displacements).max(axis=(0, 1))
    return np.asarray(apart / np.abs(peer.displacements).max(axis=(0, 1)))


def stiffness(answer: Answer, points: Array) -> Array:
    """6×6 with moments and rotations made comparable with forces and displacements."""
    return dimensionless(np.asarray(np.linalg.inv(answer.compliance)), points)
