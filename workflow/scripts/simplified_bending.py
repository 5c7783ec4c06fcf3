from workflow.figures import save_figure, write_table
from workflow.figures_simplified import bending_figure
from workflow.figures_simplified_texts import bending_text
from workflow.job import job
from workflow.simplified_beams import bending_map
from workflow.wire_specs import wire_material, wire_section

with job(snakemake):
    study, out = snakemake.params.study, snakemake.output
    section, material = (
        wire_section(snakemake.params.section),
        wire_material(snakemake.params.alloy),
    )
    table = bending_map(section, material, study["span_over_height"], study["deflection_over_span"])
    write_table(table, out.table)
    figure = bending_figure(table, snakemake.params.yield_strains, snakemake.params.limit)
    said = bending_text(table, snakemake.params.limit).in_file()
    save_figure(figure, out.svg, out.png, **said)
