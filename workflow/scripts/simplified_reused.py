import pandas as pd

from workflow.figures import save_figure
from workflow.figures_simplified import layer_figure, loops_figure, rigidity_figure
from workflow.figures_simplified_texts import layer_text, loops_text, rigidity_text
from workflow.job import job

with job(snakemake):
    given, out, limit = snakemake.input, snakemake.output, snakemake.params.limit
    layer, rigid, loops = (
        pd.read_csv(path) for path in (given.thin_layer, given.rigidity, given.small)
    )
    figure = layer_figure(layer, limit, "thin layer")
    said = layer_text(layer, limit, "thin layer").in_file()
    save_figure(figure, out.thin_layer_svg, out.thin_layer_png, **said)
    figure, said = rigidity_figure(rigid, limit), rigidity_text(rigid, limit).in_file()
    save_figure(figure, out.rigidity_svg, out.rigidity_png, **said)
    figure, said = loops_figure(loops, limit), loops_text(loops, limit).in_file()
    save_figure(figure, out.loops_svg, out.loops_png, **said)
