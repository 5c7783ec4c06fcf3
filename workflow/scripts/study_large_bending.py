from workflow.beam_theory import large_bending_table
from workflow.figures import write_table
from workflow.job import job
from workflow.wire_specs import wire_material, wire_section

with job(snakemake):
    study, name = snakemake.params.study, snakemake.wildcards.section
    table = large_bending_table(
        wire_section(snakemake.params.sections[name]),
        wire_material(snakemake.params.alloy),
        study["bent_span_over_height"],
        study["deflection_over_span"],
    )
    table.insert(0, "section", name)
    write_table(table, snakemake.output.table)
