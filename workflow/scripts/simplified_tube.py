from workflow.figures import save_figure, write_table
from workflow.figures_simplified import tube_figure
from workflow.figures_simplified_texts import tube_text
from workflow.job import job
from workflow.simplified_beams import play_map, tube_map
from workflow.wire_specs import wire_material, wire_section

with job(snakemake):
    study, out = snakemake.params.study, snakemake.output
    wire = wire_section(snakemake.params.section), wire_material(snakemake.params.alloy)
    sizes = study["spans_mm"], study["tubes_mm"], study["activation_over_span"]
    tube = tube_map(*wire, *sizes)
    held = study["play_span_mm"], study["play_tube_mm"]
    play = play_map(*wire, *held, study["plays_mm"], study["activations_mm"])
    write_table(tube, out.table)
    write_table(play, out.play)
    limit = snakemake.params.limit
    figure, said = tube_figure(tube, play, limit), tube_text(tube, play, limit).in_file()
    save_figure(figure, out.svg, out.png, **said)
