from pathlib import Path

from geometry.mesh import TetMesh
from workflow.job import job
from workflow.records import read_json
from workflow.supports import compute_support, save_support

with job(snakemake):
    spec = snakemake.params.spec
    mesh = TetMesh.read_vtu(Path(snakemake.input.mesh))
    support = compute_support(mesh, spec)
    meshed = read_json(snakemake.input.meshed)
    save_support(Path(snakemake.output.record).parent, mesh, support, spec, meshed)
