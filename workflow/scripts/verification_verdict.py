from pathlib import Path

from workflow.job import job
from workflow.records import read_json
from workflow.verification.report import failures, verdict

with job(snakemake):
    found = read_json(snakemake.input.records)
    if failed := failures(found["checks"], found["faults"]):
        raise RuntimeError(
            "\n".join([f"{len(failed)} checks fail; see {snakemake.input.page}", *failed])
        )
    said = verdict(found["checks"], found["faults"])
    Path(snakemake.output.said).write_text(f"{said}\n", encoding="utf-8")
