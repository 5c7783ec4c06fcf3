import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_case_texts import deflection_text
from workflow.figures_wire import deflection_figure, deflection_table
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    rod, solid = read_json(snakemake.input.rod), read_json(snakemake.input.solid)
    summary = read_json(snakemake.input.summary)
    table = deflection_table(rod, solid, pd.read_csv(snakemake.input.path), summary)
    write_table(table, snakemake.output.table)
    figure = deflection_figure(table, rod["spec"]["span_mm"], snakemake.params.ranges)
    solved = read_json(snakemake.input.equilibrium)
    said = deflection_text(snakemake.params.case, summary, solved).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
