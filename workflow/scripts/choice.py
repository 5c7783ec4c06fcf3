from workflow.choice import rank, solve_case
from workflow.choice_file import load_choice
from workflow.choice_tables import (
    parts_table,
    ranking_html,
    ranking_table,
    write_best_cases,
    write_text,
)
from workflow.figures import save_figure, write_table
from workflow.figures_choice import choice_figure, choice_text
from workflow.job import job

with job(snakemake):
    choice = load_choice(snakemake.input.choice)
    files = dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    ranked = rank(choice, lambda case: solve_case(case, files))
    parts = parts_table(choice, ranked)
    write_table(ranking_table(choice, ranked), snakemake.output.ranking)
    write_text(ranking_html(choice, ranked), snakemake.output.page)
    write_table(parts, snakemake.output.parts)
    figure, said = choice_figure(choice.title, parts), choice_text(choice.title, parts).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
    write_best_cases(choice, ranked, snakemake.output.cases)
