from workflow.records import write_json
from workflow.wires import solid_record

write_json(snakemake.output.solid, solid_record(snakemake.params.spec))
