from workflow.job import job
from workflow.verification.programme import write_area

with job(snakemake):
    write_area(snakemake.wildcards.area, snakemake.output.records, snakemake.params.folder)
