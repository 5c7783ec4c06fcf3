from pathlib import Path

from geometry.mesh import TetMesh
from workflow.figures import save_figure, write_table
from workflow.figures_case_texts import section_text
from workflow.figures_mesh import section_figure, section_table
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    table = section_table(TetMesh.read_vtu(Path(snakemake.input.mesh)))
    write_table(table, snakemake.output.table)
    support = read_json(snakemake.input.support)
    figure = section_figure(table, support)
    said = section_text(snakemake.params.tooth, support).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
