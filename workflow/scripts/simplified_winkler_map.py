import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_simplified import layer_figure
from workflow.figures_simplified_texts import layer_text
from workflow.job import job

with job(snakemake):
    table = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    write_table(table, snakemake.output.table)
    figure = layer_figure(table, snakemake.params.limit, "normal springs")
    said = layer_text(table, snakemake.params.limit, "normal springs").in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
