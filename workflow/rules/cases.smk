"""Per case: equilibrium of wire and units, their response, checks and summary."""


rule resolve_case:
    message:
        "Writing case {wildcards.case} with all defaults filled in."
    output:
        case=reported("results/cases/{case}/case.resolved.yaml", "resolve_case"),
    params:
        case=case_of,
        code=code_digest("resolve_case"),
    log:
        "results/cases/{case}/logs/resolve_case.log",
    script:
        "../scripts/resolve_case.py"


rule equilibrium:
    message:
        "Engaging the wire of {wildcards.case}: rod and both units' supports solved together."
    input:
        supports=of_teeth("results/supports/{support}/support.json"),
    output:
        record="results/cases/{case}/equilibrium.json",
        wire=reported("results/cases/{case}/tables/wire.csv", "wire_table"),
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("equilibrium"),
    log:
        "results/cases/{case}/logs/equilibrium.log",
    benchmark:
        "results/cases/{case}/logs/equilibrium.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/equilibrium.py"


rule response:
    message:
        "Movement and ligament stress of every tooth of {wildcards.case}."
    input:
        equilibrium=rules.equilibrium.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
        bases=of_teeth("results/supports/{support}/stress_basis.npz"),
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        record="results/cases/{case}/response.json",
        fields=directory("results/cases/{case}/fields"),
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("response"),
    log:
        "results/cases/{case}/logs/response.log",
    benchmark:
        "results/cases/{case}/logs/response.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1500,
    script:
        "../scripts/response.py"


rule bilinear:
    message:
        "Movement of {wildcards.case} in a ligament that stiffens with strain."
    input:
        equilibrium=rules.equilibrium.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        record="results/cases/{case}/bilinear.json",
        table=reported("results/cases/{case}/tables/bilinear.csv", "bilinear"),
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("bilinear"),
    log:
        "results/cases/{case}/logs/bilinear.log",
    benchmark:
        "results/cases/{case}/logs/bilinear.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=2500,
    script:
        "../scripts/bilinear.py"


rule force_activation:
    message:
        "Following force and couple of {wildcards.case} over the activation of its wire."
    input:
        equilibrium=rules.equilibrium.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
    output:
        record="results/cases/{case}/force_activation.json",
        table=numbers_of(
            "results/cases/{case}/figures/force_activation.csv", "force_activation"
        ),
        png="results/cases/{case}/figures/force_activation.png",
        svg=reported(
            "results/cases/{case}/figures/force_activation.svg", "force_activation"
        ),
    params:
        case=case_of,
        teeth=teeth_of,
        ranges=ranges_of("curves"),
        code=code_digest("force_activation"),
    log:
        "results/cases/{case}/logs/force_activation.log",
    benchmark:
        "results/cases/{case}/logs/force_activation.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/force_activation.py"


rule summary:
    message:
        "Writing the summary of {wildcards.case}."
    input:
        equilibrium=rules.equilibrium.output.record,
        response=rules.response.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
        rod=of_wire("results/wires/{wire}/rod.json"),
        solid=of_wire("results/wires/{wire}/solid.json"),
        curve=rules.force_activation.output.record,
        mesh_error="configs/catalogue/mesh_error.yaml",
    output:
        summary=reported("results/cases/{case}/summary.json", "summary"),
        units=reported("results/cases/{case}/tables/units.csv", "units_table"),
        ligament=reported("results/cases/{case}/tables/ligament.csv", "ligament_table"),
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("summary"),
    log:
        "results/cases/{case}/logs/summary.log",
    script:
        "../scripts/summary.py"


rule checks:
    message:
        "Holding the numbers of {wildcards.case} against closed forms and statics."
    input:
        summary=rules.summary.output.summary,
    output:
        checks=reported("results/cases/{case}/tables/checks.csv", "checks"),
    params:
        code=code_digest("checks"),
    log:
        "results/cases/{case}/logs/checks.log",
    script:
        "../scripts/checks.py"


rule provenance:
    message:
        "Noting code, platform and library versions of {wildcards.case}."
    input:
        summary=rules.summary.output.summary,
    output:
        record=reported("results/cases/{case}/provenance.json", "provenance"),
    params:
        case=case_of,
        stages=lambda wildcards: {
            "supports": {str(t): i for t, i in PLANS[wildcards.case].supports.items()},
            "wire": PLANS[wildcards.case].wire,
            "code": {stage: code_digest(stage) for stage in STAGES},
        },
        code=code_digest("provenance"),
    log:
        "results/cases/{case}/logs/provenance.log",
    script:
        "../scripts/provenance.py"
