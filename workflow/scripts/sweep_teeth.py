import sys

from workflow.job import job
from workflow.records import write_json
from workflow.tooth_chunks import make_teeth
from workflow.tooth_store import ToothStore

terminal = sys.stderr
with job(snakemake):
    given = snakemake.params
    store = ToothStore(given.folder, given.code)
    write_json(snakemake.output.record, make_teeth(given.specs, store, terminal))
