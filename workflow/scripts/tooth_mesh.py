from pathlib import Path

from workflow.job import job
from workflow.tooth_meshes import build_mesh, save_mesh

with job(snakemake):
    mesh, built = build_mesh(snakemake.params.spec)
    save_mesh(Path(snakemake.output.mesh), Path(snakemake.output.record), mesh, built)
