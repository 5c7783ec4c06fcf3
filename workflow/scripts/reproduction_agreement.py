from pathlib import Path

from workflow.job import job
from workflow.provenance import made_by
from workflow.records import write_json
from workflow.reproduction import agreement, agreement_table, differences_table
from workflow.reproduction_config import load_reproduction
from workflow.reproduction_page import agreement_html

with job(snakemake):
    listed, out = load_reproduction(snakemake.input.listed), snakemake.output
    chosen = listed.chosen(list(snakemake.params.figures))
    records, made = agreement(chosen, listed.closeness), made_by()
    agreement_table(records).to_csv(out.table, index=False)
    differences_table(records).to_csv(out.differences, index=False)
    write_json(out.records, {"made": made, "figures": records})
    closeness = listed.closeness.model_dump()
    html = agreement_html(records, len(listed.figures), closeness, made)
    Path(out.page).write_text(html, encoding="utf-8")
