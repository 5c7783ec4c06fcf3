from workflow.job import job
from workflow.records import write_json
from workflow.wire_solids import solid_record

with job(snakemake):
    write_json(snakemake.output.solid, solid_record(snakemake.params.spec))
