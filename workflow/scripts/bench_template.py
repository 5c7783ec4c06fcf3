from workflow.bench_template import save_template, template_figure
from workflow.bench_wire import parts_table, wire_as_bent, wire_views
from workflow.figures import write_table
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case = snakemake.params.case
    path = wire_as_bent(case, read_json(snakemake.input.equilibrium))
    table = parts_table(path, case["wire"]["bend_radius_mm"])
    write_table(table, snakemake.output.table)
    figure = template_figure(case, wire_views(case, path), table)
    save_template(figure, snakemake.output.pdf, snakemake.output.svg)
