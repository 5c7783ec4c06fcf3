from workflow.figures import write_table
from workflow.job import job
from workflow.simplified_teeth import centre_map

with job(snakemake):
    study, tooth = snakemake.params.study, int(snakemake.wildcards.tooth)
    table = centre_map(tooth, study["poisson_ratios"], study["crest_depths_mm"])
    write_table(table, snakemake.output.table)
