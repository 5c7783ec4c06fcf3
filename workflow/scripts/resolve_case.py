from pathlib import Path

import yaml

from workflow.job import job

with job(snakemake):
    text = yaml.safe_dump(snakemake.params.case, sort_keys=False, allow_unicode=True)
    Path(snakemake.output.case).write_text(text, encoding="utf-8")
