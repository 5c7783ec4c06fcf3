from workflow.beam_theory import beam_theory_table
from workflow.figures import write_table
from workflow.job import job
from workflow.wire_specs import wire_material, wire_section

with job(snakemake):
    study, name, shape = (
        snakemake.params.study,
        snakemake.wildcards.section,
        snakemake.wildcards.shape,
    )
    sizes = study["span_over_height" if shape == "straight" else "radius_over_height"]
    section = wire_section(snakemake.params.sections[name])
    table = beam_theory_table(shape, section, wire_material(snakemake.params.alloy), sizes)
    table.insert(0, "section", name)
    write_table(table, snakemake.output.table)
