from workflow.bench_template import save_template, template_figure
from workflow.bench_views import wire_views
from workflow.bench_wire import parts_table, wire_as_bent
from workflow.figures import write_table
from workflow.figures_case_texts import template_text
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case = snakemake.params.case
    solved = read_json(snakemake.input.equilibrium)
    table = parts_table(solved)
    write_table(table, snakemake.output.table)
    figure = template_figure(case, wire_views(case, wire_as_bent(case, solved), table), table)
    said = template_text(case, solved).in_file()
    save_template(figure, snakemake.output.pdf, snakemake.output.svg, snakemake.output.png, **said)
