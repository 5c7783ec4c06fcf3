from pathlib import Path

from workflow.figures import write_table
from workflow.job import job
from workflow.simplified_page import Maps, chapters, limits_table, page_html

with job(snakemake):
    given, study = snakemake.input, snakemake.params.study
    maps = Maps.read({name: getattr(given, name) for name in Maps.__dataclass_fields__})
    found = chapters(maps, study, snakemake.params.yield_strains)
    figures = {chapter.name: list(getattr(given, f"{chapter.name}_svg")) for chapter in found}
    page = page_html(study["title"], study["limit_percent"], found, figures)
    Path(snakemake.output.page).write_text(page, encoding="utf-8")
    write_table(limits_table(found), snakemake.output.limits)
