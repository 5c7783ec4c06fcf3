from workflow.figures import save_figure, write_table
from workflow.figures_supports import rotation_figure, rotation_text
from workflow.job import job
from workflow.support_study import rotation_table

with job(snakemake):
    study = snakemake.params.study
    supports = dict(zip(study["teeth"], snakemake.input.supports, strict=True))
    table = rotation_table(supports, study["moment_to_force_mm"])
    write_table(table, snakemake.output.table)
    figure, said = rotation_figure(table), rotation_text(table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
