from workflow.job import job
from workflow.provenance import provenance
from workflow.records import write_json

with job(snakemake):
    write_json(snakemake.output.record, provenance(snakemake.params.case, snakemake.params.stages))
