"""Where the anatomical axes and the cervix of a scanned tooth lie: found, or given."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometry.anatomy import tooth_dimensions
from geometry.arch import is_lower
from geometry.frame import ToothFrame
from geometry.mesh import TriSurface
from geometry.scan.axis import crown_end, profile_along, root_axis
from geometry.scan.cervix import find_cervix
from geometry.scan.directions import GivenFrame, angle_deg, buccal_direction, unit_vector
from geometry.scan.mend import MendedScan
from geometry.scan.sections import sections

Floats = NDArray[np.float64]

_FAR_DEG = 25.0  # of a given long axis from the longest principal axis: said in a note
_LYING_DEG = 60.0
_LONGER = 0.35  # than published, or shorter: said in a note


@dataclass(frozen=True)
class Fidelity:
    """Distance of the scan's nodes from the mended surface, mm, by part of the tooth."""

    crown_p95_mm: float
    crown_max_mm: float
    root_p95_mm: float
    root_max_mm: float


@dataclass(frozen=True)
class ScanFrame:
    """Axes and lengths of a scanned tooth.

    Parameters
    ----------
    number : int
        ISO 3950.
    frame : ToothFrame
        Origin at the centre of the cervical section, axes mesial, buccal, occlusal, in the
        coordinates of the file.
    crown_length_mm, root_length_mm : float
        From the cervix to the highest and to the lowest point, along the long axis.
    long_axis_by, buccal_by, cervix_by : str
        How each was found, in a sentence.
    fidelity : Fidelity
    notes : tuple of str
        What should be looked at, empty if nothing.
    """

    number: int
    frame: ToothFrame
    crown_length_mm: float
    root_length_mm: float
    long_axis_by: str
    buccal_by: str
    cervix_by: str
    fidelity: Fidelity
    notes: tuple[str, ...]

    def local_surface(self, surface: TriSurface) -> TriSurface:
        """Return a surface in the tooth's frame, as parametric teeth are.

        Left-handed triads mirror it; its triangles then are turned to face outwards again.
        """
        triangles = surface.triangles[:, ::-1] if self.frame.mirrored else surface.triangles
        local = self.frame.to_tooth(surface.points)
        return replace(surface, points=local, triangles=triangles.copy())


def scan_frame(scan: MendedScan, number: int, given: GivenFrame | None = None) -> ScanFrame:
    """Find the axes, the cervix and the lengths of a scanned tooth.

    The crown's end is told by `geometry.scan.axis.crown_end` and must agree with the jaw where
    the file is in patient coordinates; the long axis is that of `root_axis`; the cervix that of
    `geometry.scan.cervix.find_cervix`. Mesial and buccal are those of the mean dental arch at this
    tooth, square to the long axis, turned about it onto the tooth's own principal direction where
    that is clear (second moments of crown and cervical half of the root 1.25 to 1) and no more
    than 25° away. Invalid where the tooth is turned by more than that and not given: the arch's
    direction then stays. A file whose x and y axes point the other way (R-A-S) cannot be told
    from one tooth; state that it is not in patient coordinates and give the buccal direction.

    Parameters
    ----------
    scan : MendedScan
    number : int
        ISO 3950.
    given : GivenFrame, optional
        Overrides what would be found.

    Raises
    ------
    ValueError
        If a given direction, length or point is not possible, the crown's end contradicts the
        jaw, the buccal direction can be neither found nor is given, or there is no clear cervix.
    """
    given = given or GivenFrame()
    dimensions = tooth_dimensions(number)
    surface, name = scan.surface, scan.name
    start, end_by, notes = _start(scan, number, given)

    def cervix_height(axis: Floats) -> float:
        return _cervix(surface, axis, number, given, name)[0]

    if given.long_axis is None:
        axis = root_axis(surface, start, cervix_height)
        axis_by = f"found: line through the centres of the root's sections; {end_by}"
    else:
        axis, axis_by = start, "given"
    profile, ends = profile_along(surface, axis)
    height, cervix_by = _cervix(surface, axis, number, given, name)
    centre = sections(surface, axis, np.array([height])).centre[0]
    mesial, buccal, buccal_by = buccal_direction(profile, height, ends, axis, number, given, name)
    frame = ToothFrame(centre, np.column_stack([mesial, buccal, axis]))
    published = dimensions.crown_length_mm + dimensions.root_length_mm
    if abs((ends[1] - ends[0]) / published - 1.0) > _LONGER:
        notes = (
            *notes,
            f"It is {ends[1] - ends[0]:.1f} mm long, tooth {number} by published means "
            f"{published:.1f} mm: check number and unit.",
        )
    return ScanFrame(
        number,
        frame,
        ends[1] - height,
        height - ends[0],
        axis_by,
        buccal_by,
        cervix_by,
        _fidelity(scan, frame),
        notes,
    )


def _start(scan: MendedScan, number: int, given: GivenFrame) -> tuple[Floats, str, tuple[str, ...]]:
    """Return an axis towards the crown, how its sense was told, and notes on it."""
    end = crown_end(scan.surface)
    side = "lower" if is_lower(number) else "upper"
    up = 1.0 if is_lower(number) else -1.0
    if given.long_axis is not None:
        axis = unit_vector(given.long_axis, "long_axis", scan.name)
        apart = angle_deg(axis, end.axis)
        notes = []
        if apart > _FAR_DEG:
            notes.append(f"The given long axis is {apart:.0f}° from that of the shape.")
        if given.patient_coordinates and up * axis[2] < 0.0:
            notes.append("The given long axis points away from the other jaw.")
        return axis, "", tuple(notes)
    by = "crown's end from the areas of the sections"
    if not given.patient_coordinates:
        if end.agreeing < 3:
            raise ValueError(
                f"{scan.name}: its shape does not tell crown from apex; give long_axis, pointing "
                "to the crown"
            )
        return end.axis, by, ()
    if end.agreeing < 3 and up * end.axis[2] < 0.0:
        return -end.axis, "crown's end from the jaw, its shape leaves it open", ()
    if up * end.axis[2] < 0.0:
        raise ValueError(
            f"{scan.name}: by its shape the crown points {'down' if up > 0.0 else 'up'}, but tooth "
            f"{number} stands in the {side} jaw; correct the number, or give long_axis (towards "
            "the crown), or state that the file is not in patient coordinates (+z superior) and "
            "give buccal"
        )
    lean = angle_deg(end.axis, np.array([0.0, 0.0, up]))
    lying = f"The tooth leans {lean:.0f}° from upright: check that +z is superior."
    return end.axis, by + ", as the jaw has it", (lying,) if lean > _LYING_DEG else ()


def _cervix(
    surface: TriSurface, axis: Floats, number: int, given: GivenFrame, name: str
) -> tuple[float, str]:
    """Return the height of the cervix along an axis and how it was found."""
    level = surface.points @ axis
    low, high = float(level.min()), float(level.max())
    if given.crown_length_mm is not None and given.cervix_point_mm is not None:
        raise ValueError(f"{name}: give either crown_length_mm or cervix_point_mm, not both")
    if given.crown_length_mm is not None:
        height, key = high - given.crown_length_mm, f"crown_length_mm {given.crown_length_mm:g}"
    elif given.cervix_point_mm is not None:
        height, key = float(np.asarray(given.cervix_point_mm) @ axis), "cervix_point_mm"
    else:
        profile, ends = profile_along(surface, axis)
        found = find_cervix(profile, ends, tooth_dimensions(number), name)
        away = found.height_mm - found.expected_mm
        return found.height_mm, (
            f"found: greatest bend of the outline, {abs(away):.1f} mm "
            f"{'above' if away > 0.0 else 'below'} where published proportions put it"
        )
    if not 0.1 < (height - low) / (high - low) < 0.9:
        raise ValueError(
            f"{name}: {key} puts the cervix {high - height:.1f} mm below the top of a tooth of "
            f"{high - low:.1f} mm; give a level between crown and root, in mm and in the "
            "coordinates of the file"
        )
    return height, "given"


def _fidelity(scan: MendedScan, frame: ToothFrame) -> Fidelity:
    crown = frame.to_tooth(scan.nodes)[:, 2] > 0.0
    above, below = scan.deviation_mm[crown], scan.deviation_mm[~crown]
    return Fidelity(
        float(np.quantile(above, 0.95)),
        float(above.max()),
        float(np.quantile(below, 0.95)),
        float(below.max()),
    )
