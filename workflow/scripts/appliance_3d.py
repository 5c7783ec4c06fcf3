from workflow.figures import save_figure, write_table
from workflow.figures_appliance import appliance_figure
from workflow.figures_case_texts import appliance_text
from workflow.figures_loads import arrow_table, loads_on_units, scale_of
from workflow.figures_view import directions, load_plane, placed_teeth
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case = snakemake.params.case
    solved = read_json(snakemake.input.equilibrium)
    summary = read_json(snakemake.input.summary)
    loads = loads_on_units(summary, solved)
    scale = scale_of(loads, snakemake.params.ranges)
    arrows = arrow_table(loads, scale)
    teeth = placed_teeth(
        case, dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True))
    )
    write_table(arrows, snakemake.output.table)
    words = directions(case, solved)
    figure = appliance_figure(teeth, solved, arrows, scale, words, load_plane(case, words))
    said = appliance_text(case, summary, solved, scale).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
