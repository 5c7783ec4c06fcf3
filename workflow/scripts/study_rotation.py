from workflow.figures import save_figure, write_table
from workflow.figures_supports import rotation_figure
from workflow.job import job
from workflow.support_study import rotation_table

with job(snakemake):
    study = snakemake.params.study
    supports = dict(zip(study["teeth"], snakemake.input.supports, strict=True))
    table = rotation_table(supports, study["moment_to_force_mm"])
    write_table(table, snakemake.output.table)
    save_figure(rotation_figure(table), snakemake.output.svg, snakemake.output.png)
