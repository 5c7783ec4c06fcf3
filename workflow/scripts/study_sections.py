from workflow.figures import save_figure, write_table
from workflow.figures_wire_study import stiffness_figure, stiffness_text
from workflow.job import job
from workflow.wire_specs import wire_material, wire_section
from workflow.wire_stiffness import ladder, stiffness_table

with job(snakemake):
    study, alloys = snakemake.params.study, snakemake.params.alloys
    reference = study["reference_alloy"], study["reference_section"]
    table = stiffness_table(
        {name: wire_section(row) for name, row in snakemake.params.sections.items()},
        {name: wire_material(row).youngs_modulus_MPa for name, row in alloys.items()},
        reference,
        study["published_material_numbers"],
    )
    write_table(table, snakemake.output.table)
    shown = ladder(table, study["shown"], list(alloys))
    figure, said = stiffness_figure(shown, reference), stiffness_text(shown, reference).in_file()
    save_figure(figure, snakemake.output.svg, snakemake.output.png, **said)
