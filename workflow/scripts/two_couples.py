from workflow.case_units import case_units
from workflow.figures import save_figure, write_table
from workflow.figures_two_couples import two_couples_figure, two_couples_text
from workflow.job import job
from workflow.records import read_json
from workflow.two_couples import two_couples_table

with job(snakemake):
    case = snakemake.params.case
    units = case_units(
        case, dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    )
    offset = read_json(snakemake.input.equilibrium)["offset_mm"]
    table = two_couples_table(case, units, offset, snakemake.params.bracket)
    write_table(table, snakemake.output.table)
    figure, said = two_couples_figure(table), two_couples_text(table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
