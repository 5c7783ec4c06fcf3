from workflow.job import job
from workflow.records import write_json
from workflow.verification.faults import FAULTS, try_fault

with job(snakemake):
    write_json(snakemake.output.records, [try_fault(fault).record() for fault in FAULTS])
