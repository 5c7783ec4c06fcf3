import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_supports import rigidity_figure
from workflow.job import job

with job(snakemake):
    table = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    write_table(table, snakemake.output.table)
    save_figure(rigidity_figure(table), snakemake.output.svg, snakemake.output.png)
