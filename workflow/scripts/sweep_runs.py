import sys
from pathlib import Path

from workflow.job import job
from workflow.sweep_config import load_parameter_study
from workflow.sweep_report import resolved_study, write_yaml
from workflow.sweep_store import write_parquet
from workflow.sweep_table import study_table

if __name__ == "__main__":  # processes that start afresh read this file again
    terminal = sys.stderr
    with job(snakemake):
        loaded = load_parameter_study(snakemake.input.study)
        out = snakemake.output
        folder = Path(out.parquet).parent
        table = study_table(
            loaded, snakemake.params.supports, folder / "store", snakemake.threads, terminal
        )
        print(table.counts, file=terminal)
        write_parquet(table.rows, Path(out.parquet))
        table.rows.to_csv(out.csv, index=False)
        write_yaml(out.resolved, resolved_study(loaded, table))
