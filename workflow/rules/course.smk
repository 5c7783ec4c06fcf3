"""Per case that asks for it: the course of movement as the teeth move on."""


def of_course(pattern):
    """File of the course of a case; none where the case has none."""

    def files(wildcards):
        asked = PLANS[wildcards.case].case["course"] is not None
        return expand(pattern, case=wildcards.case) if asked else []

    return files


rule course:
    message:
        "Following {wildcards.case} as its teeth move on."
    input:
        equilibrium=rules.equilibrium.output.record,
        supports=of_teeth("results/supports/{support}/support.json"),
        meshes=of_teeth("results/supports/{support}/mesh.vtu"),
    output:
        record="results/cases/{case}/course.json",
        steps=reported("results/cases/{case}/tables/course.csv", "course_steps"),
        table=numbers_of("results/cases/{case}/figures/course.csv", "course"),
        png="results/cases/{case}/figures/course.png",
        svg=reported("results/cases/{case}/figures/course.svg", "course"),
    params:
        case=case_of,
        teeth=teeth_of,
        code=code_digest("course"),
    log:
        "results/cases/{case}/logs/course.log",
    benchmark:
        "results/cases/{case}/logs/course.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/course.py"
