import sys

from workflow.archive import checkout, entries, write_archive, write_contents
from workflow.job import job

terminal = sys.stderr
with job(snakemake):
    packed = entries(checkout(), snakemake.params.results)
    write_archive(packed, snakemake.output.archive)
    write_contents(packed, snakemake.output.archive, snakemake.output.contents)
    for said in packed.told:
        print(said, file=terminal)
