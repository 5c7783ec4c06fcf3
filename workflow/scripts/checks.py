import pandas as pd

from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    checks = pd.DataFrame(read_json(snakemake.input.summary)["checks"])
    checks.to_csv(snakemake.output.checks, index=False)
    failed = checks[~checks["passed"]]
    if len(failed):
        raise RuntimeError(f"checks failed, see {snakemake.input.summary}:\n{failed.to_string()}")
