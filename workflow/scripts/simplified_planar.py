from workflow.figures import save_figure, write_table
from workflow.figures_simplified import planar_figure
from workflow.figures_simplified_texts import planar_text
from workflow.job import job
from workflow.records import read_json
from workflow.simplified_planar import HeldTooth, Setup, planar_map
from workflow.wire_specs import wire_material, wire_section

with job(snakemake):
    study, out = snakemake.params.study, snakemake.output
    setup = Setup(
        target=HeldTooth.of(read_json(snakemake.input.target)),
        anchor=HeldTooth.of(read_json(snakemake.input.anchor)),
        section=wire_section(snakemake.params.section),
        material=wire_material(snakemake.params.alloy),
        span_mm=study["span_mm"],
        tube_mm=study["tube_mm"],
        activation_mm=study["activation_over_span"] * study["span_mm"],
    )
    table = planar_map(setup, study["offsets_mm"], study["angles_deg"])
    write_table(table, out.table)
    limit = snakemake.params.limit
    said = planar_text(table, limit).in_file()
    save_figure(planar_figure(table, limit), out.svg, out.png, **said)
