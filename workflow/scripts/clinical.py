from pathlib import Path

from workflow.case_units import case_units
from workflow.clinical import clinical_page, clinical_rows
from workflow.course import case_course
from workflow.figures import write_table
from workflow.job import job
from workflow.records import read_json
from workflow.tip_back import tip_back_table

with job(snakemake):
    case, teeth = snakemake.params.case, snakemake.params.teeth
    units = case_units(case, dict(zip(teeth, snakemake.input.supports, strict=True)))
    offset = read_json(snakemake.input.equilibrium)["offset_mm"]
    table = tip_back_table(case_course(case, units, offset))
    summaries = {Path(path).parent.name: read_json(path) for path in snakemake.input.summaries}
    write_table(table, snakemake.output.table)
    page = clinical_page(clinical_rows(table, summaries))
    Path(snakemake.output.page).write_text(page, encoding="utf-8")
