from workflow.comparison import comparison_table, mesh_errors
from workflow.figures import save_figure, write_table
from workflow.figures_comparison import comparison_figure
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    question = snakemake.params.question
    summaries = [read_json(path) for path in snakemake.input.summaries]
    curves = [read_json(path) for path in snakemake.input.curves]
    table = comparison_table(question["labels"], summaries, curves)
    errors = mesh_errors(summaries)
    write_table(table, snakemake.output.table)
    write_table(errors.assign(case=table["case"]), snakemake.output.errors)
    save_figure(
        comparison_figure(table, errors, question["question"]),
        snakemake.output.svg,
        snakemake.output.png,
        title=question["question"],
        description=" ".join(table["words"]).strip(),
    )
