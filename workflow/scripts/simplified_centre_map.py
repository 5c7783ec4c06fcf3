import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_simplified import all_teeth_figure, centre_figure
from workflow.job import job
from workflow.simplified_teeth import all_teeth_table

with job(snakemake):
    out, limit = snakemake.output, snakemake.params.limit
    maps = pd.concat([pd.read_csv(path) for path in snakemake.input.tables])
    supports = dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    teeth = all_teeth_table(supports)
    write_table(maps, out.table)
    write_table(teeth, out.teeth)
    save_figure(centre_figure(maps, limit), out.svg, out.png)
    save_figure(all_teeth_figure(teeth, limit), out.teeth_svg, out.teeth_png)
