import pandas as pd

from workflow.figures import write_table
from workflow.job import job
from workflow.simplified_teeth import winkler_table

with job(snakemake):
    thin_layer = pd.read_csv(snakemake.input.thin_layer)
    table = winkler_table(int(snakemake.wildcards.tooth), thin_layer)
    write_table(table, snakemake.output.table)
