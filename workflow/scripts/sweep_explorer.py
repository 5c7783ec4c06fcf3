from pathlib import Path

import pandas as pd

from workflow.explorer import explorer_html
from workflow.job import job

with job(snakemake):
    given, table = snakemake.params, pd.read_parquet(snakemake.input.table)
    page = explorer_html(table, given.factors, given.responses, given.title, given.words)
    Path(snakemake.output.page).write_text(page, encoding="utf-8")
