from pathlib import Path

from geometry.mesh import TetMesh
from workflow.figures import save_figure, write_table
from workflow.figures_mesh import section_figure, section_table
from workflow.job import job
from workflow.records import read_json

with job(snakemake):
    table = section_table(TetMesh.read_vtu(Path(snakemake.input.mesh)))
    write_table(table, snakemake.output.table)
    figure = section_figure(table, read_json(snakemake.input.support))
    save_figure(figure, snakemake.output.svg, snakemake.output.png)
