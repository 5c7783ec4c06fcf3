from pathlib import Path

from workflow.job import job
from workflow.tooth_meshes import build_mesh, save_mesh

with job(snakemake):
    spec = snakemake.params.spec
    mesh, built = build_mesh(spec)
    save_mesh(Path(snakemake.output.mesh), Path(snakemake.output.record), spec, mesh, built)
