from workflow.case_units import case_units
from workflow.figures import save_figure, write_table
from workflow.figures_force_activation import curve_figure, curve_text
from workflow.force_activation import case_curve, curve_record, curve_table, solid_forces
from workflow.job import job
from workflow.records import read_json, write_json

with job(snakemake):
    case = snakemake.params.case
    units = case_units(
        case, dict(zip(snakemake.params.teeth, snakemake.input.supports, strict=True))
    )
    working = read_json(snakemake.input.equilibrium)["offset_mm"]
    curve = case_curve(case, units, working)
    solid = solid_forces(case, units, curve, working)
    record, table = curve_record(case, curve, solid), curve_table(curve, solid)
    write_json(snakemake.output.record, record)
    write_table(table, snakemake.output.table)
    figure = curve_figure(table, record, snakemake.params.ranges)
    said = curve_text(case, record).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
