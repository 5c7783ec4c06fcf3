from workflow.figures import write_table
from workflow.job import job
from workflow.support_study import rigidity_table

with job(snakemake):
    study = snakemake.params.study
    tooth = int(snakemake.wildcards.tooth)
    table = rigidity_table(tooth, study["poisson_ratio"], study["youngs_moduli_MPa"])
    write_table(table, snakemake.output.table)
