from workflow.job import job
from workflow.page_print import print_page

with job(snakemake):
    print_page(snakemake.input.sheet, snakemake.output.pdf)
