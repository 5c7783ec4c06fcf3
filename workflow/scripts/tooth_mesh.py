from pathlib import Path

from geometry.quality import assert_quality
from geometry.tooth_mesh import build_tooth_mesh
from workflow.job import job
from workflow.tooth_specs import tooth_mesh_spec

with job(snakemake):
    mesh = build_tooth_mesh(tooth_mesh_spec(snakemake.params.spec))
    assert_quality(mesh)
    mesh.write_vtu(Path(snakemake.output.mesh))
