from pathlib import Path

from workflow.job import job
from workflow.provenance import made_by
from workflow.records import read_json, write_json
from workflow.verification.report import checks_table, report_html

with job(snakemake):
    areas = dict(zip(snakemake.params.areas, map(read_json, snakemake.input.areas), strict=True))
    records = [record for area in areas.values() for record in area["checks"]]
    pictures = {name: area["pictures"] for name, area in areas.items()}
    faults, made = read_json(snakemake.input.faults), made_by()
    checks_table(records).to_csv(snakemake.output.table, index=False)
    write_json(snakemake.output.records, {"made": made, "checks": records, "faults": faults})
    html = report_html(records, faults, pictures, snakemake.params.figures, made)
    Path(snakemake.output.page).write_text(html, encoding="utf-8")
