from workflow.case_units import case_units
from workflow.equilibrium import engage_case, equilibrium_record, wire_table
from workflow.job import job
from workflow.records import write_json

with job(snakemake):
    case = snakemake.params.case
    units = case_units(
        case, dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    )
    record = equilibrium_record(case, units, engage_case(case, units))
    write_json(snakemake.output.record, record)
    wire_table(record).to_csv(snakemake.output.wire, index=False)
