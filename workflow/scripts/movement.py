from workflow.figures import save_figure, write_table
from workflow.figures_case_texts import movement_text
from workflow.figures_movement import movement_figure, movement_table, unit_motions
from workflow.figures_view import placed_teeth
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case, ranges = snakemake.params.case, snakemake.params.ranges
    summary = read_json(snakemake.input.summary)
    meshes = dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True))
    motions = unit_motions(summary, placed_teeth(case, meshes), ranges["enlargement"])
    table = movement_table(motions)
    write_table(table, snakemake.output.table)
    figure = movement_figure(table, motions, summary)
    factors = {motion.name: motion.factor for motion in motions if motion.moves}
    said = movement_text(case, summary, factors).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
