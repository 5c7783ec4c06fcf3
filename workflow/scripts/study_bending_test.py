from workflow.bending_test import bending_test_tables
from workflow.figures import save_figure, write_table
from workflow.figures_wire_study import bending_test_figure, bending_test_text
from workflow.job import job

with job(snakemake):
    study, section = snakemake.params.study, snakemake.params.section
    curves, table = bending_test_tables(
        snakemake.params.alloys, section, study["span_mm"], study["deflection_mm"], study["step_mm"]
    )
    write_table(curves, snakemake.output.curves)
    write_table(table, snakemake.output.table)
    figure, said = bending_test_figure(curves, table), bending_test_text(curves, table).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
