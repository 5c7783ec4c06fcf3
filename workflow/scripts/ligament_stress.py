from pathlib import Path

from workflow.figures import save_figure, write_table
from workflow.figures_case_texts import ligament_text
from workflow.figures_ligament import read_stress, stress_figure
from workflow.figures_view import directions, placed_teeth
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    case = snakemake.params.case
    tooth = case["two_point"]["tooth"]
    stress = read_stress(Path(snakemake.input.fields) / f"ligament_{tooth}.vtu")
    teeth = placed_teeth(
        case, dict(zip(snakemake.params.teeth, snakemake.input.meshes, strict=True))
    )
    placed = next(entry for entry in teeth if entry.number == tooth)
    write_table(stress.table, snakemake.output.table)
    words = directions(case, read_json(snakemake.input.equilibrium))
    limit = snakemake.params.ranges["limit_kPa"] or stress.limit_kPa
    figure = stress_figure(stress, placed, words, limit)
    said = ligament_text(case, read_json(snakemake.input.summary), limit).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
