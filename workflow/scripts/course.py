from workflow.case_units import case_units
from workflow.course import case_course, course_record, course_table
from workflow.figures import save_figure, write_table
from workflow.figures_course import course_figure, course_text, drawing_table
from workflow.figures_view import directions, placed_teeth
from workflow.job import job
from workflow.records import read_json, write_json

with job(snakemake):
    case, teeth = snakemake.params.case, snakemake.params.teeth
    units = case_units(case, dict(zip(teeth, snakemake.input.supports, strict=True)))
    solved = read_json(snakemake.input.equilibrium)
    followed = case_course(case, units, solved["offset_mm"])
    record, steps, words = course_record(followed), course_table(followed), directions(case, solved)
    placed = placed_teeth(case, dict(zip(teeth, snakemake.input.meshes, strict=True)))
    drawing = drawing_table(followed, placed, words)
    write_json(snakemake.output.record, record)
    write_table(steps, snakemake.output.steps)
    write_table(drawing, snakemake.output.table)
    figure = course_figure(drawing, steps, record, words)
    said = course_text(case, record).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
