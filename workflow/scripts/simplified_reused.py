import pandas as pd

from workflow.figures import save_figure
from workflow.figures_simplified import layer_figure, loops_figure, rigidity_figure
from workflow.job import job

with job(snakemake):
    given, out, limit = snakemake.input, snakemake.output, snakemake.params.limit
    thin_layer = layer_figure(pd.read_csv(given.thin_layer), limit, "thin layer")
    save_figure(thin_layer, out.thin_layer_svg, out.thin_layer_png)
    rigidity = rigidity_figure(pd.read_csv(given.rigidity), limit)
    save_figure(rigidity, out.rigidity_svg, out.rigidity_png)
    loops = loops_figure(pd.read_csv(given.small), limit)
    save_figure(loops, out.loops_svg, out.loops_png)
