from workflow.bilinear import bilinear_record, bilinear_table
from workflow.job import job
from workflow.records import read_json, write_json

with job(snakemake):
    teeth = snakemake.params.teeth
    record = bilinear_record(
        snakemake.params.case,
        read_json(snakemake.input.equilibrium),
        dict(zip(teeth, snakemake.input.supports, strict=True)),
        dict(zip(teeth, snakemake.input.meshes, strict=True)),
    )
    write_json(snakemake.output.record, record)
    bilinear_table(record).to_csv(snakemake.output.table, index=False)
