"""The study of wires: where beam theory holds, three-point bending, a ladder of stiffness."""

from workflow.beam_theory import SHAPES
from workflow.catalogue import load_catalogue
from workflow.wire_study import alloy_row, load_wire_study, section_row

WIRE_STUDY_FOLDER = "results/studies/wires"

try:
    WIRE_STUDY = load_wire_study("configs/studies/wires.yaml").model_dump(mode="json")
except CaseError as error:
    raise WorkflowError(str(error)) from None

BEAM_THEORY = WIRE_STUDY["beam_theory"]


def rows_of(part, kind):
    """Catalogue rows that a part of the study names, so that a change of theirs reruns it."""
    row = {"alloys": alloy_row, "sections": section_row}[kind]
    return {name: row(name) for name in WIRE_STUDY[part][kind]}


rule study_beam_theory:
    message:
        "Formula, rod and solid of a wire: {wildcards.shape}, {wildcards.section}."
    output:
        table=f"{WIRE_STUDY_FOLDER}/tables/beam_theory_{{shape}}_{{section}}.csv",
    params:
        study=BEAM_THEORY,
        alloy=alloy_row(BEAM_THEORY["alloy"]),
        sections=rows_of("beam_theory", "sections"),
        code=code_digest("study_beam_theory"),
    log:
        f"{WIRE_STUDY_FOLDER}/logs/study_beam_theory_{{shape}}_{{section}}.log",
    benchmark:
        f"{WIRE_STUDY_FOLDER}/logs/study_beam_theory_{{shape}}_{{section}}.benchmark.tsv"
    wildcard_constraints:
        shape="|".join(SHAPES),
    threads: 1
    resources:
        mem_mb=2000,
    script:
        "../scripts/study_beam_theory.py"


rule study_large_bending:
    message:
        "Formula, rod and solid of a straight wire bent far: {wildcards.section}."
    output:
        table=f"{WIRE_STUDY_FOLDER}/tables/large_bending_{{section}}.csv",
    params:
        study=BEAM_THEORY,
        alloy=alloy_row(BEAM_THEORY["alloy"]),
        sections=rows_of("beam_theory", "sections"),
        code=code_digest("study_large_bending"),
    log:
        f"{WIRE_STUDY_FOLDER}/logs/study_large_bending_{{section}}.log",
    benchmark:
        f"{WIRE_STUDY_FOLDER}/logs/study_large_bending_{{section}}.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/study_large_bending.py"


rule study_beam_theory_map:
    message:
        "Where beam theory holds."
    input:
        small=expand(
            rules.study_beam_theory.output.table,
            shape=SHAPES,
            section=BEAM_THEORY["sections"],
        ),
        far=expand(
            rules.study_large_bending.output.table, section=BEAM_THEORY["sections"]
        ),
    output:
        small=numbers_of(
            f"{WIRE_STUDY_FOLDER}/tables/beam_theory.csv",
            "study_beam_theory",
            WIRE_STUDY["title"],
        ),
        far=reported(
            f"{WIRE_STUDY_FOLDER}/tables/large_bending.csv",
            "study_large_bending",
            WIRE_STUDY["title"],
        ),
        svg=reported(
            f"{WIRE_STUDY_FOLDER}/figures/beam_theory.svg",
            "study_beam_theory",
            WIRE_STUDY["title"],
        ),
        png=f"{WIRE_STUDY_FOLDER}/figures/beam_theory.png",
    params:
        code=code_digest("study_beam_theory_map"),
    log:
        f"{WIRE_STUDY_FOLDER}/logs/study_beam_theory_map.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/study_beam_theory_map.py"


rule study_bending_test:
    message:
        "Three-point bending of one wire size in several alloys."
    output:
        curves=numbers_of(
            f"{WIRE_STUDY_FOLDER}/tables/bending_test_curves.csv",
            "study_bending_test",
            WIRE_STUDY["title"],
        ),
        table=reported(
            f"{WIRE_STUDY_FOLDER}/tables/bending_test.csv",
            "study_bending_table",
            WIRE_STUDY["title"],
        ),
        svg=reported(
            f"{WIRE_STUDY_FOLDER}/figures/bending_test.svg",
            "study_bending_test",
            WIRE_STUDY["title"],
        ),
        png=f"{WIRE_STUDY_FOLDER}/figures/bending_test.png",
    params:
        study=WIRE_STUDY["three_point"],
        alloys=rows_of("three_point", "alloys"),
        section=section_row(WIRE_STUDY["three_point"]["section"]),
        code=code_digest("study_bending_test"),
    log:
        f"{WIRE_STUDY_FOLDER}/logs/study_bending_test.log",
    benchmark:
        f"{WIRE_STUDY_FOLDER}/logs/study_bending_test.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/study_bending_test.py"


rule study_sections:
    message:
        "How stiff all sections are in all alloys."
    output:
        table=numbers_of(
            f"{WIRE_STUDY_FOLDER}/tables/stiffness.csv",
            "study_stiffness",
            WIRE_STUDY["title"],
        ),
        svg=reported(
            f"{WIRE_STUDY_FOLDER}/figures/stiffness.svg",
            "study_stiffness",
            WIRE_STUDY["title"],
        ),
        png=f"{WIRE_STUDY_FOLDER}/figures/stiffness.png",
    params:
        study=WIRE_STUDY["stiffness"],
        alloys=rows_of("stiffness", "alloys"),
        sections={name: section_row(name) for name in load_catalogue().sections},
        code=code_digest("study_sections"),
    log:
        f"{WIRE_STUDY_FOLDER}/logs/study_sections.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/study_sections.py"


rule wire_study:
    input:
        rules.study_beam_theory_map.output,
        rules.study_bending_test.output,
        rules.study_sections.output,
