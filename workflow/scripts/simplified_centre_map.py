import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_simplified import all_teeth_figure, centre_figure
from workflow.figures_simplified_texts import all_teeth_text, centre_text
from workflow.job import job
from workflow.simplified_teeth import all_teeth_table

with job(snakemake):
    out, limit = snakemake.output, snakemake.params.limit
    maps = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    supports = dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    teeth = all_teeth_table(supports)
    write_table(maps, out.table)
    write_table(teeth, out.teeth)
    figure, said = centre_figure(maps, limit), centre_text(maps, limit).in_file()
    save_figure(figure, out.svg, out.png, **said)
    figure, said = all_teeth_figure(teeth, limit), all_teeth_text(teeth, limit).in_file()
    save_figure(figure, out.teeth_svg, out.teeth_png, **said)
