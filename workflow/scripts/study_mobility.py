from workflow.figures import save_figure, write_table
from workflow.figures_supports import mobility_figure, mobility_text
from workflow.job import job
from workflow.support_study import mobility_table

with job(snakemake):
    study = snakemake.params.study
    table = mobility_table(study["tooth"], study["force_N"], tuple(study["measured_um"]))
    write_table(table, snakemake.output.table)
    figure = mobility_figure(table, study["force_N"], study["tooth"])
    said = mobility_text(table, study["force_N"], study["tooth"]).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
