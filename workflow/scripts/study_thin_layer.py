from workflow.figures import write_table
from workflow.job import job
from workflow.support_study import thin_layer_table

with job(snakemake):
    study = snakemake.params.study
    tooth = int(snakemake.wildcards.tooth)
    table = thin_layer_table(tooth, study["poisson_ratios"], study["thicknesses_mm"])
    write_table(table, snakemake.output.table)
