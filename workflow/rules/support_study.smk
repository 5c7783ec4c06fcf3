"""The study of supports: every tooth at default settings, and what simpler assumptions cost."""

from workflow.digest import spec_id
from workflow.study import default_specs, load_support_study

STUDY_FOLDER = "results/studies/supports"
STUDY_SPECS = default_specs()
STUDY_SUPPORTS = {tooth: spec_id(spec) for tooth, spec in STUDY_SPECS.items()}
PLANS.supports.update(
    {STUDY_SUPPORTS[tooth]: STUDY_SPECS[tooth] for tooth in STUDY_SPECS}
)

try:
    STUDY = load_support_study("configs/studies/supports.yaml").model_dump(mode="json")
except CaseError as error:
    raise WorkflowError(str(error)) from None


def of_study_teeth(name, teeth):
    return [f"results/supports/{STUDY_SUPPORTS[tooth]}/{name}" for tooth in teeth]


rule study_teeth:
    message:
        "Table of all teeth: areas beside published ones, meshes, centres of resistance."
    input:
        supports=of_study_teeth("support.json", STUDY_SUPPORTS),
        meshes=of_study_teeth("mesh.vtu", STUDY_SUPPORTS),
    output:
        table=numbers_of(
            f"{STUDY_FOLDER}/tables/teeth.csv", "study_teeth", STUDY["title"]
        ),
        svg=reported(f"{STUDY_FOLDER}/figures/teeth.svg", "study_teeth", STUDY["title"]),
        png=f"{STUDY_FOLDER}/figures/teeth.png",
    params:
        teeth=list(STUDY_SUPPORTS),
        code=code_digest("study_teeth"),
    log:
        f"{STUDY_FOLDER}/logs/study_teeth.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/study_teeth.py"


rule study_thin_layer:
    message:
        "Thin-layer theory against finite elements around tooth {wildcards.tooth}."
    output:
        table=f"{STUDY_FOLDER}/tables/thin_layer_{{tooth}}.csv",
    params:
        study=STUDY["thin_layer"],
        code=code_digest("study_thin_layer"),
    log:
        f"{STUDY_FOLDER}/logs/study_thin_layer_{{tooth}}.log",
    benchmark:
        f"{STUDY_FOLDER}/logs/study_thin_layer_{{tooth}}.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=3000,
    script:
        "../scripts/study_thin_layer.py"


rule study_thin_layer_map:
    message:
        "Error map of thin-layer theory."
    input:
        tables=expand(
            rules.study_thin_layer.output.table, tooth=STUDY["thin_layer"]["teeth"]
        ),
    output:
        table=numbers_of(
            f"{STUDY_FOLDER}/tables/thin_layer.csv", "study_thin_layer", STUDY["title"]
        ),
        svg=reported(
            f"{STUDY_FOLDER}/figures/thin_layer.svg",
            "study_thin_layer",
            STUDY["title"],
        ),
        png=f"{STUDY_FOLDER}/figures/thin_layer.png",
    params:
        code=code_digest("study_thin_layer_map"),
    log:
        f"{STUDY_FOLDER}/logs/study_thin_layer_map.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/study_thin_layer_map.py"


rule study_rigidity:
    message:
        "Tooth {wildcards.tooth} and its bone, rigid and elastic."
    output:
        table=f"{STUDY_FOLDER}/tables/rigidity_{{tooth}}.csv",
    params:
        study=STUDY["rigidity"],
        code=code_digest("study_rigidity"),
    log:
        f"{STUDY_FOLDER}/logs/study_rigidity_{{tooth}}.log",
    benchmark:
        f"{STUDY_FOLDER}/logs/study_rigidity_{{tooth}}.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=6000,
    script:
        "../scripts/study_rigidity.py"


rule study_rigidity_cost:
    message:
        "What a rigid tooth and rigid bone cost."
    input:
        tables=expand(
            rules.study_rigidity.output.table, tooth=STUDY["rigidity"]["teeth"]
        ),
    output:
        table=numbers_of(
            f"{STUDY_FOLDER}/tables/rigidity.csv", "study_rigidity", STUDY["title"]
        ),
        svg=reported(
            f"{STUDY_FOLDER}/figures/rigidity.svg", "study_rigidity", STUDY["title"]
        ),
        png=f"{STUDY_FOLDER}/figures/rigidity.png",
    params:
        code=code_digest("study_rigidity_cost"),
    log:
        f"{STUDY_FOLDER}/logs/study_rigidity_cost.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/study_rigidity_cost.py"


rule study_mobility:
    message:
        "A light force at mid-crown by every ligament law, beside what was measured."
    output:
        table=numbers_of(
            f"{STUDY_FOLDER}/tables/mobility.csv", "study_mobility", STUDY["title"]
        ),
        svg=reported(
            f"{STUDY_FOLDER}/figures/mobility.svg", "study_mobility", STUDY["title"]
        ),
        png=f"{STUDY_FOLDER}/figures/mobility.png",
    params:
        study=STUDY["mobility"],
        code=code_digest("study_mobility"),
    log:
        f"{STUDY_FOLDER}/logs/study_mobility.log",
    threads: 1
    resources:
        mem_mb=2500,
    script:
        "../scripts/study_mobility.py"


rule study_rotation:
    message:
        "Centres of rotation against the moment-to-force ratio."
    input:
        supports=of_study_teeth("support.json", STUDY["rotation"]["teeth"]),
    output:
        table=numbers_of(
            f"{STUDY_FOLDER}/tables/rotation.csv", "study_rotation", STUDY["title"]
        ),
        svg=reported(
            f"{STUDY_FOLDER}/figures/rotation.svg", "study_rotation", STUDY["title"]
        ),
        png=f"{STUDY_FOLDER}/figures/rotation.png",
    params:
        study=STUDY["rotation"],
        code=code_digest("study_rotation"),
    log:
        f"{STUDY_FOLDER}/logs/study_rotation.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/study_rotation.py"


rule support_study:
    input:
        rules.study_teeth.output,
        rules.study_thin_layer_map.output,
        rules.study_rigidity_cost.output,
        rules.study_mobility.output,
        rules.study_rotation.output,
