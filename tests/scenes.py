"""Scenes of two teeth that take no time: ellipsoids in a layer of tetrahedra, loads in balance."""

import jinja2
import numpy as np
import pyvista as pv

from fem.movement import movement
from fem.rigid import shift_motion
from geometry.frame import ToothFrame
from geometry.mesh import TetMesh
from workflow.figures_ligament import LigamentStress
from workflow.figures_view import PlacedTooth, split_at_zero
from workflow.pages import amounts
from workflow.plan import frames
from workflow.scenes import scene_values
from workflow.scenes_ligament import stressed_surface
from workflow.scenes_record import ToothScene, scenes_record
from workflow.unit_records import movement_record

MOLAR, PREMOLAR = 37, 35
CROWN_MM = 8.0
LOWERED = np.array([0.0, 0.0, 3.0])  # a crown of 8 mm on a root of 14 mm
FORCE_N = np.array([0.05, -0.02, 0.5])
# About the tooth's cervix: mm, rad.
MOTIONS = {
    MOLAR: np.array([1e-3, -2e-3, 3e-3, -2e-3, 5e-4, 3e-4]),
    PREMOLAR: np.array([-2e-4, 1e-4, -1.5e-3, 2e-4, 1e-4, -1e-4]),
}
PAGE = """{% from "scenes.html.j2" import appliance_view, ligament_view, scene_scripts %}
{% macro still(name) %}<figure id="{{ name }}-still"><p>the still picture</p></figure>{% endmacro %}
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; form-action 'none';
  script-src 'unsafe-inline' 'unsafe-eval'; style-src 'unsafe-inline'; img-src data: blob:">
<link rel="icon" href="data:,">
<title>Scenes</title>
<style>{% include "sheet.css" %}{% include "scenes.css" %}</style>
</head>
<body>
<main>
<h1>Scenes</h1>
<section><h2>Appliance</h2>{{ appliance_view(scenes, still("appliance")) }}</section>
<section style="margin-top: 150vh">
<h2>Ligament</h2>{{ ligament_view(scenes, still("ligament")) }}
</section>
</main>
{{ scene_scripts(scenes) }}
</body>
</html>
"""


def case(**changes):
    upright = {"mesial_tip_deg": 0.0, "buccal_tip_deg": 0.0, "mesial_in_deg": 0.0}
    upright |= {"mesial_mm": 0.0, "buccal_mm": 0.0, "occlusal_mm": 0.0}
    whole = {"dimensions": {}, "roots": None, "crest_depth_mm": 1.5, "crest_by_side_mm": None}
    return {
        "units": {"molar": {"teeth": [MOLAR]}, "premolar": {"teeth": [PREMOLAR]}},
        "teeth": {str(tooth): upright | whole | {"scan": None} for tooth in (MOLAR, PREMOLAR)},
        "two_point": {"unit": "molar", "tooth": MOLAR},
        "one_point": {"unit": "premolar", "tooth": PREMOLAR},
        "wire": {"activation": {"pulls": "apical"}},
        "further": [],
        "mirror_image": False,
    } | changes


def sites():
    """Middle of the tube and the hook, 5 mm buccal of the teeth and 4 mm above their cervices."""
    placed = frames(case())
    return [placed[tooth].to_patient(np.array([0.0, 6.0, 4.0])) for tooth in (MOLAR, PREMOLAR)]


def solved():
    tube, hook = sites()
    along = (hook - tube) / np.linalg.norm(hook - tube)
    wire = np.linspace(tube - 2 * along, hook, 12)
    couple = -np.cross(hook - tube, -FORCE_N)
    attachments = {"molar": tube, "premolar": hook}
    return {
        "tube": {"middle_mm": tube, "mouths_mm": [tube - 2 * along, tube + 2 * along]},
        "hook": {"touch_mm": hook, "bracket_mm": None},
        "wire": {
            "engaged_mm": wire,
            "passive_mm": wire - np.linspace(0, 4, 12)[:, None] * [0, 0, 1],
        },
        "contacts": [
            {"unit": "molar", "point_mm": tube, "wrench": [*FORCE_N, *couple]},
            {"unit": "premolar", "point_mm": hook, "wrench": [*-FORCE_N, 0, 0, 0]},
        ],
        "units": {
            name: {
                "attachment_mm": place,
                "centre_mm": frames(case())[tooth].origin,
                "motion_at_centre": MOTIONS[tooth],
            }
            for (name, place), tooth in zip(attachments.items(), MOTIONS, strict=True)
        },
    }


def summary(share=1.0, names=("molar", "premolar")):
    """As the response stage writes it, with a share of the motions."""
    units = {}
    contacts = ("two-point", "one-point")
    for name, contact, (tooth, motion) in zip(names, contacts, MOTIONS.items(), strict=True):
        frame = frames(case())[tooth]
        centre = frame.to_patient(np.array([0.0, 0.0, -6.0]))
        moved = movement_record(movement(share * motion, frame.origin, centre, frame.axes))
        mid_crown = frame.to_patient(np.array([0.0, 0.0, CROWN_MM / 2]))
        crown = share * shift_motion(motion, frame.origin, mid_crown)[:3]
        mesial, buccal, extrusion = 1e3 * (crown @ frame.axes)
        own = {"resistance_centre_mm": centre, **moved}
        own["mid_crown"] = {"extrusion_um": extrusion, "mesial_um": mesial, "buccal_um": buccal}
        units[name] = own | {"teeth": [tooth], "contact": contact}
        units[name]["movement_by_tooth"] = {str(tooth): own}
    return {"case": "two_teeth", "units": units}


def ellipsoid(half_mm):
    body = pv.Icosphere(nsub=3)
    points = np.asarray(body.points, dtype=float)
    points *= [3.5, 3.5, half_mm] / np.linalg.norm(points, axis=1, keepdims=True)
    return points, body.regular_faces.astype(np.int64)


def placed_tooth(number, unit):
    points, triangles = ellipsoid(11.0)
    points = points - LOWERED
    points, crown, root = split_at_zero(points, triangles, points[:, 2])
    frame = frames(case())[number]
    return PlacedTooth(number, unit, frame, frame.to_patient(points), crown, root)


def layer():
    """A shell of 0.3 mm about the lower half of an ellipsoid, each triangle a prism in three."""
    points, triangles = ellipsoid(11.0)
    triangles = triangles[(points[triangles][..., 2] < 0).all(axis=1)]
    points, outside = points - LOWERED, points * (1 + 0.3 / 3.5) - LOWERED
    a, b, c = triangles.T
    A, B, C = triangles.T + len(points)
    prisms = ([a, b, c, C], [a, b, C, B], [a, B, C, A])
    tets = np.concatenate([np.stack(corners, axis=1) for corners in prisms])
    facets = {"socket": np.stack([A, B, C], axis=1), "rim": np.stack([a, b, B], axis=1)[:1]}
    region = np.zeros(len(tets), dtype=np.int64)
    return TetMesh(np.concatenate([points, outside]), tets, region, ("ligament",), facets)


def stress_of(mesh, frame: ToothFrame, peak_kPa):
    """Tension on one side and compression on the other, more towards the apex."""
    centroids = mesh.points[mesh.tets].mean(axis=1)
    field = centroids[:, 0] * centroids[:, 2]
    used, tets = np.unique(mesh.tets, return_inverse=True)
    points = frame.to_patient(mesh.points[used])
    return LigamentStress(points, tets.reshape(-1, 4), peak_kPa * field / np.abs(field).max())


def teeth():
    mesh = layer()
    found = []
    for number, unit, peak_kPa in ((MOLAR, "molar", 17.0), (PREMOLAR, "premolar", 3.0)):
        tooth = placed_tooth(number, unit)
        stress = stress_of(mesh, tooth.frame, peak_kPa)
        found.append(ToothScene(tooth, stress, stressed_surface(mesh, stress)))
    return found


def record(**changes):
    given = {"case": case(), "summary": summary(), "solved": solved(), "teeth": teeth()}
    return scenes_record(**(given | changes))


def page_of(scenes):
    """A page with both scenes, the second one screen further down."""
    loaders = [jinja2.DictLoader({"page": PAGE}), jinja2.FileSystemLoader("workflow/report")]
    environment = jinja2.Environment(
        loader=jinja2.ChoiceLoader(loaders), autoescape=True, undefined=jinja2.StrictUndefined
    )
    environment.filters["amounts"] = amounts
    return environment.get_template("page").render(scenes=scene_values(scenes))
