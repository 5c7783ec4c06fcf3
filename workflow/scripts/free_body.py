from workflow.figures import save_figure, write_table
from workflow.figures_case_texts import free_body_text
from workflow.figures_free_body import free_body_figure, free_body_table, table_scale, with_lengths
from workflow.figures_loads import loads_on_units
from workflow.figures_view import directions, load_plane, placed_teeth
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case = snakemake.params.case
    solved = read_json(snakemake.input.equilibrium)
    summary = read_json(snakemake.input.summary)
    words = directions(case, solved)
    plane = load_plane(case, words)
    table = free_body_table(loads_on_units(summary, solved), plane.view)
    scale = table_scale(table, snakemake.params.ranges)
    teeth = placed_teeth(
        case, dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True))
    )
    write_table(with_lengths(table, scale), snakemake.output.table)
    figure = free_body_figure(table, scale, teeth, solved, words, plane)
    said = free_body_text(case, summary, solved, scale).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
