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
        scenes=rules.scenes.output.record,
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
            part=[
                "sheet.html.j2",
                "parts.html.j2",
                "sheet.css",
                "sheet_page.css",
                "sheet.js",
                "scenes.html.j2",
                "scenes.css",
                "scenes.js",
                "scenes_bodies.js",
                "scenes_camera.js",
                "scenes_views.js",
            ],
        ),
    output:
        sheet=reported("results/cases/{case}/sheet.html", "sheet"),
    params:
        teeth=teeth_of,
        code=code_digest("sheet"),
    log:
        "results/cases/{case}/logs/sheet.log",
    script:
        "../scripts/sheet.py"


rule sheet_pdf:
    message:
        "Printing the sheet of {wildcards.case} on A4."
    input:
        sheet=rules.sheet.output.sheet,
    output:
        pdf=reported("results/cases/{case}/sheet.pdf", "sheet_pdf"),
    params:
        code=code_digest("sheet_pdf"),
    log:
        "results/cases/{case}/logs/sheet_pdf.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/sheet_pdf.py"
