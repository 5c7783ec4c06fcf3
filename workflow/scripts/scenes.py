from pathlib import Path

from geometry.mesh import TetMesh
from workflow.figures_ligament import read_stress
from workflow.figures_view import placed_teeth
from workflow.job import job
from workflow.records import read_json
from workflow.scenes_ligament import stressed_surface
from workflow.scenes_record import ToothScene, scenes_record, write_scenes

with job(snakemake):
    case = snakemake.params.case
    files = dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True))
    teeth = []
    for tooth in placed_teeth(case, files):
        stress = read_stress(Path(snakemake.input.fields) / f"ligament_{tooth.number}.vtu")
        mesh = TetMesh.read_vtu(Path(files[tooth.number]))
        teeth.append(ToothScene(tooth, stress, stressed_surface(mesh, stress)))
    record = scenes_record(
        case, read_json(snakemake.input.summary), read_json(snakemake.input.equilibrium), teeth
    )
    write_scenes(snakemake.output.record, record)
