"""Planar statics of a one-couple appliance against the appliance in space.

Planar statics draws wire and teeth in one plane, that of the target's long axis and the arch. The
force at the hook is ``3 E I δ/(L²(L + b))``, the couple at the tube is the force times the distance
``L + b/2`` measured along the wire, and the target moves in the plane by the part of its compliance
that lies in it. Left out: that attachments stand buccal of the long axes, and that the wire follows
the arch away from the plane.

In space the target stands at the origin (x mesial, y buccal, z occlusal), its tube along x at the
middle of the crown's height, `offset` buccal of the long axis. The wire leads to the hook at an
angle ψ to x towards lingual; the arch being a circle there, the anchor is turned by 2ψ. The hook is
`offset` buccal of the anchor's long axis. Supports and formula are the same on both sides, so the
differences come from the third dimension alone (with neither angle nor offset: from the wire's
shear and large deflection).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from fem.appliance import Unit
from fem.batch import solve_batch
from fem.batch_result import BatchResult
from fem.cantilever_design import Cantilever, CantileverSites, WireDesign
from fem.closed_form import TwoPointCantilever
from fem.material import Elastic
from fem.rigid import rotate_stiffness, shift_motion, shift_stiffness, to_local
from fem.section import Section
from workflow.tooth_specs import dimensions_of

Array = NDArray[np.float64]

_UP = np.array([0.0, 0.0, 1.0])
_IN_PLANE = [0, 2, 4]  # along mesial, along occlusal, about buccal
_ELEMENTS = 40
_BEND_RADIUS_MM = 1.0


@dataclass(frozen=True)
class HeldTooth:
    """A tooth in its own axes (mesial, buccal, occlusal), z = 0 at the cervix.

    Attributes
    ----------
    point, stiffness
        6×6 support about a point, (3,), mm.
    bracket_mm
        Height of its attachment above the cervix.
    embedded_mm
        Length of the root in bone.
    """

    point: Array
    stiffness: Array
    bracket_mm: float
    embedded_mm: float

    @classmethod
    def of(cls, record: Mapping[str, Any]) -> HeldTooth:
        """Tooth of a ``support.json``, its attachment at the middle of the crown's height."""
        found = record["resistance"]
        return cls(
            np.array(record["point_mm"]),
            np.array(record["stiffness"]),
            dimensions_of(record["spec"]).crown_length_mm / 2,
            found["root_length_mm"] - found["mean_crest_depth_mm"],
        )

    @property
    def bracket(self) -> Array:
        """The point of the long axis at the height of the attachment, (3,), mm."""
        return self.bracket_mm * _UP


@dataclass(frozen=True)
class Setup:
    """Two teeth and a straight wire between them.

    Attributes
    ----------
    target, anchor
        Teeth in the tube and at the hook.
    section, material
        The wire.
    span_mm, tube_mm
        Straight distance from tube to hook, and length of the tube.
    activation_mm
        Distance of the passive wire's end below the hook.
    """

    target: HeldTooth
    anchor: HeldTooth
    section: Section
    material: Elastic
    span_mm: float
    tube_mm: float
    activation_mm: float

    @property
    def arm_mm(self) -> float:
        """Distance from the tube's middle to the hook along the wire."""
        return self.span_mm + self.tube_mm / 2


def anchor_axes(angle_deg: float) -> Array:
    """Columns mesial, buccal, occlusal of the anchor, (3, 3)."""
    turn = np.radians(2 * angle_deg)
    mesial = np.array([np.cos(turn), -np.sin(turn), 0.0])
    return np.column_stack([mesial, np.cross(_UP, mesial), _UP])


def appliance(
    setup: Setup, angle_deg: float, target_offset_mm: float, anchor_offset_mm: float
) -> Cantilever:
    """The appliance in space."""
    angle, axes = np.radians(angle_deg), anchor_axes(angle_deg)
    middle = np.array([0.0, target_offset_mm, setup.target.bracket_mm])
    half = np.array([setup.tube_mm / 2, 0.0, 0.0])
    hook = middle + half + setup.span_mm * np.array([np.cos(angle), -np.sin(angle), 0.0])
    cervix = hook - axes @ (setup.anchor.bracket + np.array([0.0, anchor_offset_mm, 0.0]))
    sites = CantileverSites(
        mouths=(middle - half, middle + half),
        tube_axes=np.eye(3),
        hook=hook,
        bar=axes[:, 0],
        activation=_UP,
    )
    target, anchor = setup.target, setup.anchor
    turned = rotate_stiffness(anchor.stiffness, axes)
    units = (
        Unit("target", target.point, target.stiffness),
        Unit("anchor", cervix + axes @ anchor.point, turned),
    )
    wire = WireDesign(setup.section, setup.material, _BEND_RADIUS_MM, _ELEMENTS)
    return Cantilever(sites, wire, units)


def planar_motion(setup: Setup) -> Array:
    """Motion in the plane that planar statics foretells a unit of force, at the bracket.

    Returns
    -------
    (3,) array
        Along mesial and occlusal (mm/N) and about buccal (rad/N); the target is extruded.
    """
    target = setup.target
    at_bracket = shift_stiffness(target.stiffness, target.point, target.bracket)
    in_plane = np.linalg.inv(at_bracket)[np.ix_(_IN_PLANE, _IN_PLANE)]
    return np.asarray(in_plane @ np.array([0.0, 1.0, -setup.arm_mm]))


def rotation_centre(motion: Array) -> Array:
    """Point of the plane that does not move in it, mesial and occlusal of the bracket, (..., 2)."""
    along, up, turn = np.moveaxis(np.asarray(motion, dtype=float), -1, 0)
    return np.stack([up / turn, -along / turn], axis=-1)


def planar_map(
    setup: Setup, offsets_mm: Sequence[float], angles_deg: Sequence[float]
) -> pd.DataFrame:
    """What planar statics gets wrong and leaves out, over angle and both offsets.

    Returns
    -------
    DataFrame
        One row an angle and pair of offsets. Errors of the force at the given activation; of the
        couple about the buccal axis at the force as it is, with the distance along the wire and
        with its projection on the plane; distance of the two centres of rotation in the plane; and
        percent of what happens out of the plane of what happens in it: couple at the tube, rotation
        of the target, and movement of the anchor's crown to the side over its intrusion.

    Raises
    ------
    ValueError
        If an appliance cannot be engaged.
    """
    places = list(product(angles_deg, offsets_mm, offsets_mm))
    designs = [appliance(setup, *place) for place in places]
    found = solve_batch(designs, np.full(len(places), setup.activation_mm))
    if not found.converged.all():
        raise ValueError(next(reason for reason in found.reasons if reason))
    table = pd.DataFrame(places, columns=["angle_deg", "target_offset_mm", "anchor_offset_mm"])
    return table.assign(
        **_loads(setup, table["angle_deg"].to_numpy(), designs, found),
        **_target(setup, found.motions[:, 0]),
        **_anchor(setup, found.motions[:, 1], table),
    )


def _loads(
    setup: Setup, angles_deg: Array, designs: list[Cantilever], found: BatchResult
) -> dict[str, Array]:
    force = np.abs(found.forces_on_hook_N[:, 2])
    middles = np.array([design.sites.tube_middle for design in designs])
    couples = found.couples_on_tube_Nmm(middles)
    simple = TwoPointCantilever(setup.section, setup.material, setup.span_mm, setup.tube_mm)
    in_plane = np.abs(couples[:, 1])
    projected = setup.span_mm * np.cos(np.radians(angles_deg)) + setup.tube_mm / 2
    return {
        "force_N": force,
        "couple_Nmm": in_plane,
        "force_error_percent": 100 * (simple.stiffness_N_per_mm * setup.activation_mm / force - 1),
        "couple_error_percent": 100 * (force * setup.arm_mm / in_plane - 1),
        "projected_couple_error_percent": 100 * (force * projected / in_plane - 1),
        "couple_out_of_plane_percent": 100 * np.hypot(couples[:, 0], couples[:, 2]) / in_plane,
    }


def _target(setup: Setup, motions: Array) -> dict[str, Array]:
    at_bracket = shift_motion(motions, setup.target.point, setup.target.bracket)
    true = rotation_centre(at_bracket[:, _IN_PLANE])
    apart = np.linalg.norm(true - rotation_centre(planar_motion(setup)), axis=1)
    turn = at_bracket[:, 3:]
    return {
        "rotation_centre_apart_mm": apart,
        "rotation_centre_apart_percent_of_root": 100 * apart / setup.target.embedded_mm,
        "target_out_of_plane_percent": 100 * np.hypot(turn[:, 0], turn[:, 2]) / np.abs(turn[:, 1]),
    }


def _anchor(setup: Setup, motions: Array, table: pd.DataFrame) -> dict[str, Array]:
    aside = []
    for motion, angle in zip(motions, table["angle_deg"], strict=True):
        own = to_local(motion, anchor_axes(float(angle)))
        crown = shift_motion(own, setup.anchor.point, setup.anchor.bracket)
        aside.append(100 * abs(crown[1] / crown[2]))
    return {"anchor_aside_percent": np.array(aside)}
