from pathlib import Path

from workflow.comparison_page import comparison_html, panels_words
from workflow.comparison_panels import panels, panels_figure, panels_table
from workflow.comparison_records import RECORDS, ComparedCase
from workflow.figures import save_figure, write_table
from workflow.job import job

with job(snakemake):
    question = snakemake.params.question
    meshes = iter(snakemake.input.meshes)
    cases = [
        ComparedCase.read(
            label,
            {record: snakemake.input[record][place] for record in RECORDS},
            dict(zip(teeth, meshes, strict=False)),
        )
        for place, (label, teeth) in enumerate(
            zip(question["labels"], snakemake.params.teeth, strict=True)
        )
    ]
    table, scale = panels_table(cases)
    write_table(table, snakemake.output.table)
    figure = panels_figure(panels(cases, table, scale), scale)
    words = panels_words(cases, scale)
    save_figure(
        figure,
        snakemake.output.svg,
        snakemake.output.png,
        title=question["question"],
        description=words,
    )
    html = comparison_html(snakemake.wildcards.name, question["question"], cases)
    Path(snakemake.output.page).write_text(html, encoding="utf-8")
