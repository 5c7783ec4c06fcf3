"""Error of the mesh: the index that measures it, teeth and wires on three meshes each."""

from __future__ import annotations

from workflow.verification import solution_pictures
from workflow.verification.check import Check, Picture
from workflow.verification.solution_index import INDEX_CHECKS
from workflow.verification.solution_teeth import TEETH_CHECKS
from workflow.verification.solution_wires import WIRE_CHECKS

CHECKS: tuple[Check, ...] = (*INDEX_CHECKS, *TEETH_CHECKS, *WIRE_CHECKS)

PICTURES: tuple[Picture, ...] = solution_pictures.PICTURES
