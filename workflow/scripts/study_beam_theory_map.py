import pandas as pd

from workflow.figures import save_figure, write_table
from workflow.figures_beam_theory import beam_theory_figure, beam_theory_text
from workflow.job import job

with job(snakemake):
    small = pd.concat([pd.read_csv(path) for path in snakemake.input.small])
    far = pd.concat([pd.read_csv(path) for path in snakemake.input.far])
    write_table(small, snakemake.output.small)
    write_table(far, snakemake.output.far)
    figure, said = beam_theory_figure(small, far), beam_theory_text(small, far).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
