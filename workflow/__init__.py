"""Running and showing: case files, the Snakemake stages, figures and the sheet."""
