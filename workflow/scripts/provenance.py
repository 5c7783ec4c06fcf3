from workflow.provenance import provenance
from workflow.records import write_json

write_json(snakemake.output.record, provenance(snakemake.params.case, snakemake.params.stages))
