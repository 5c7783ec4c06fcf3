from workflow.figures import save_figure, write_table
from workflow.figures_supports import teeth_figure, teeth_text
from workflow.job import job
from workflow.support_study import teeth_table

with job(snakemake):
    teeth = snakemake.params.teeth
    supports = dict(zip(teeth, snakemake.input.supports, strict=True))
    meshes = dict(zip(teeth, snakemake.input.meshes, strict=True))
    table = teeth_table(supports, meshes)
    write_table(table, snakemake.output.table)
    figure, said = teeth_figure(table), teeth_text(table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
