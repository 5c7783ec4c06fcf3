from workflow.job import job
from workflow.provenance import code_version
from workflow.records import read_json, write_json
from workflow.summary import ligament_table, summarise, units_table

with job(snakemake):
    summary = summarise(
        snakemake.params.case,
        code_version(),
        read_json(snakemake.input.equilibrium),
        read_json(snakemake.input.response),
        [read_json(path) for path in snakemake.input.supports],
        read_json(snakemake.input.rod),
        read_json(snakemake.input.solid),
        read_json(snakemake.input.curve),
    )
    write_json(snakemake.output.summary, summary)
    units_table(summary).to_csv(snakemake.output.units, index=False)
    ligament_table(summary).to_csv(snakemake.output.ligament, index=False)
