from pathlib import Path

from workflow.job import job
from workflow.records import read_json, write_json
from workflow.response import respond

with job(snakemake):
    record = respond(
        snakemake.params.case,
        read_json(snakemake.input.equilibrium),
        dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True)),
        dict(zip(snakemake.params.teeth, snakemake.input.bases, strict=True)),
        dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True)),
        Path(snakemake.output.fields),
    )
    write_json(snakemake.output.record, record)
