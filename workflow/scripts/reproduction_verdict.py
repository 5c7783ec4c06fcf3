from pathlib import Path

from workflow.job import job
from workflow.records import read_json
from workflow.reproduction import touched, verdict

with job(snakemake):
    records = read_json(snakemake.input.records)["figures"]
    if lines := touched(records):
        said = f"{verdict(records)} What differs, more in {snakemake.input.page}:"
        raise RuntimeError("\n".join([said, *lines]))
    Path(snakemake.output.said).write_text(f"{verdict(records)}\n", encoding="utf-8")
