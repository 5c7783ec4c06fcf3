import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_supports import rigidity_figure, rigidity_text
from workflow.job import job

with job(snakemake):
    table = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    write_table(table, snakemake.output.table)
    figure, said = rigidity_figure(table), rigidity_text(table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
