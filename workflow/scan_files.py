"""Reading, keeping and meshing scanned teeth: what needs the libraries of surfaces."""

from __future__ import annotations

import tempfile
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import pyvista as pv

from geometry.crest import Crest, PolylineCrest, SaddleCrest, crest_plane
from geometry.frame import ToothFrame
from geometry.measures import ToothMeasures
from geometry.mesh import TriSurface
from geometry.scan.crest import local_crest_line, local_plane, read_crest_line
from geometry.scan.directions import GivenFrame
from geometry.scan.frame import Fidelity, ScanFrame, scan_frame
from geometry.scan.mend import read_scan
from workflow.integrity import Entry, sum_of, write_entries
from workflow.records import read_json, write_json
from workflow.scanned import (
    RECORD,
    SUMS,
    SURFACE,
    faults_of_kept,
    file_digest,
    kept_scan,
    scan_folder,
)
from workflow.specs import Spec

_GIVEN = tuple(GivenFrame.__dataclass_fields__)
_CERVICAL_BAND_MM = 0.5
_SHOWN_AT = (0.3, 0.9)  # shares of the crown's length between which brackets sit


@dataclass(frozen=True)
class ScannedTooth:
    """A scan, ready to be placed and meshed.

    Attributes
    ----------
    surface
        Closed, in the tooth's frame, mm.
    frame
        Its axes and lengths.
    notes
        What was mended, and what should be looked at.
    """

    surface: TriSurface
    frame: ScanFrame
    notes: tuple[str, ...]

    @property
    def measures(self) -> ToothMeasures:
        """What placing it needs to know."""
        points, length = self.surface.points, self.frame.crown_length_mm
        low, high = (share * length for share in _SHOWN_AT)
        crown = points[(points[:, 2] > low) & (points[:, 2] < high)]
        return ToothMeasures(length, self.frame.root_length_mm, float(crown[:, 1].max()))

    def crest(self, spec: Spec) -> Crest:
        """Bone crest of a support spec in the tooth's frame.

        Raises
        ------
        ValueError
            If a plane or a drawn line does not fit the tooth.
        """
        if spec["crest_plane"] is not None:
            plane = spec["crest_plane"]
            return local_plane(self.frame, plane["point_mm"], plane["normal"])
        if spec["crest_line"] is not None:
            file = spec["crest_line"]["file"]
            _require_unchanged(spec["crest_line"])
            placed = TriSurface.one_patch(
                self.frame.frame.to_patient(self.surface.points), self.surface.triangles, "tooth"
            )
            line = read_crest_line(Path(file))
            return PolylineCrest(local_crest_line(placed, self.frame, line, file))
        if spec["crest_by_side_mm"] is not None:
            cervix = np.abs(self.surface.points[:, 2]) < _CERVICAL_BAND_MM
            half = np.abs(self.surface.points[cervix, :2]).max(axis=0)
            return SaddleCrest(
                **spec["crest_by_side_mm"], half_md_mm=float(half[0]), half_bl_mm=float(half[1])
            )
        return crest_plane(spec["crest_depth_mm"])


def read_and_keep(shape: Spec) -> None:
    """Read the scan of a shape spec and keep what is found in its folder.

    Raises
    ------
    ValueError
        If the scan is refused, or is not the file that the case was read with; says why.
    """
    name = shape["scan"]["file"]
    _require_unchanged(shape["scan"])
    try:
        tooth = _read(shape["tooth"], shape["scan"])
    except Exception as error:  # of any of the libraries of surfaces, on a file that none foresaw
        if isinstance(error, ValueError) and str(error).startswith(f"{name}: "):
            raise
        first_line = (str(error) or type(error).__name__).splitlines()[0]
        raise ValueError(
            f"{name}: no closed surface of one tooth can be made of it; look for coordinates that "
            f"are no numbers or triangles of no area, and export it anew ({first_line})"
        ) from error
    _require_unchanged(shape["scan"])  # also not while it was read
    _keep(tooth, scan_folder(shape))


def _require_unchanged(named: Spec) -> None:
    """Hold a file that a case names against the content that the case was read with."""
    file = named["file"]
    if not Path(file).is_file():
        raise ValueError(
            f"{file}: is gone since the case was read; put it back, then run the same command again"
        )
    if file_digest(file) != named["sha256"]:
        raise ValueError(
            f"{file}: was changed since the case was read; run the same command again, which reads "
            "it anew"
        )


def _read(tooth: int, scan: Spec) -> ScannedTooth:
    mended = read_scan(Path(scan["file"]), scan["unit"])
    given: Spec = {key: scan[key] for key in _GIVEN}
    given |= {key: tuple(value) for key, value in given.items() if isinstance(value, list)}
    frame = scan_frame(mended, tooth, GivenFrame(**given))
    notes = (*mended.report.notes, *frame.notes)
    return ScannedTooth(frame.local_surface(mended.surface), frame, notes)


def _keep(tooth: ScannedTooth, folder: Path) -> None:
    """Write all files elsewhere first, so that nobody ever sees a part of them."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent) as aside:
        draft = Path(aside) / "tooth"
        draft.mkdir()
        faces = tooth.surface.triangles.astype(int)
        pv.PolyData.from_regular_faces(tooth.surface.points, faces).save(draft / SURFACE)
        frame = tooth.frame
        record = asdict(frame) | {
            "notes": tooth.notes,
            "frame_notes": frame.notes,
            "measures": asdict(tooth.measures),
        }
        write_json(draft / RECORD, record)
        names = (RECORD, SURFACE)
        entries = [Entry(folder / name, folder, sum_of(draft / name)) for name in names]
        write_entries(draft / SUMS, entries)
        _put(draft, folder, Path(aside) / "damaged")


def _put(draft: Path, folder: Path, damaged: Path) -> None:
    """Put a folder in its place; what another process put there meanwhile is the same scan."""
    if not faults_of_kept(folder):
        return
    with suppress(FileNotFoundError):
        folder.rename(damaged)
    try:
        draft.rename(folder)
    except OSError:
        if faults_of_kept(folder):
            raise


def load_scan(shape: Spec) -> ScannedTooth:
    """Scan of a shape spec as it is kept, read from its file if that is missing or damaged.

    Raises
    ------
    ValueError
        If the scan is refused, or is not the file that the case was read with; says why.
    """
    folder = kept_scan(shape)
    record = read_json(folder / RECORD)
    body = pv.read(folder / SURFACE)
    points = np.asarray(body.points, dtype=np.float64)
    surface = TriSurface.one_patch(points, body.regular_faces.astype(np.int64), "tooth")
    axes = ToothFrame(*(np.array(record["frame"][key]) for key in ("origin", "axes")))
    frame = ScanFrame(
        **{
            **{key: record[key] for key in ScanFrame.__dataclass_fields__},
            "frame": axes,
            "fidelity": Fidelity(**record["fidelity"]),
            "notes": tuple(record["frame_notes"]),
        }
    )
    return ScannedTooth(surface, frame, tuple(record["notes"]))
