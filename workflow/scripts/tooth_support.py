from pathlib import Path

from geometry.mesh import TetMesh
from workflow.job import job
from workflow.memory import require_memory
from workflow.records import read_json
from workflow.support_cost import cost_of_support
from workflow.supports import compute_support, save_support

with job(snakemake):
    spec = snakemake.params.spec
    meshed = read_json(snakemake.input.meshed)
    require_memory(cost_of_support(spec, meshed).memory_MB)
    mesh = TetMesh.read_vtu(Path(snakemake.input.mesh))
    support = compute_support(mesh, spec)
    save_support(Path(snakemake.output.record).parent, mesh, support, spec, meshed)
