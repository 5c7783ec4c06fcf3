from workflow.job import job
from workflow.records import write_json
from workflow.wire_rods import path_table, rod_record

with job(snakemake):
    spec = snakemake.params.spec
    path_table(spec).to_csv(snakemake.output.path, index=False)
    write_json(snakemake.output.rod, rod_record(spec))
