import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_supports import thin_layer_figure, thin_layer_text
from workflow.job import job

with job(snakemake):
    table = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    write_table(table, snakemake.output.table)
    figure, said = thin_layer_figure(table), thin_layer_text(table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
