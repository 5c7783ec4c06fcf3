from workflow.comparison import comparison_table
from workflow.figures import save_figure, write_table
from workflow.figures_comparison import comparison_figure
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    question = snakemake.params.question
    table = comparison_table(
        question["labels"],
        [read_json(path) for path in snakemake.input.summaries],
        [read_json(path) for path in snakemake.input.curves],
    )
    write_table(table, snakemake.output.table)
    figure = comparison_figure(table, question["question"])
    save_figure(figure, snakemake.output.svg, snakemake.output.png)
