"""Per case: the sheet, one page that opens offline."""


rule sheet:
    message:
        "Writing the sheet of {wildcards.case}."
    input:
        case=rules.resolve_case.output.case,
        summary=rules.summary.output.summary,
        equilibrium=rules.equilibrium.output.record,
        bilinear=rules.bilinear.output.record,
        curve=rules.force_activation.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
        checks=rules.checks.output.checks,
        provenance=rules.provenance.output.record,
        figures=[
            rules.free_body.output.svg,
            rules.appliance_3d.output.png,
            rules.movement.output.svg,
            rules.force_activation.output.svg,
            rules.wire_deflection.output.svg,
            rules.ligament_stress.output.png,
            rules.mesh_section.output.png,
            rules.bench_template.output.pdf,
        ],
        course=of_course(rules.course.output.record),
        course_figure=of_course(rules.course.output.svg),
        page=expand(
            "workflow/report/{part}",
            part=["sheet.html.j2", "sheet.css", "parts.html.j2"],
        ),
    output:
        sheet="results/cases/{case}/sheet.html",
    params:
        teeth=teeth_of,
        code=code_digest("sheet"),
    log:
        "results/cases/{case}/logs/sheet.log",
    script:
        "../scripts/sheet.py"
