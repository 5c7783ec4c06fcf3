"""The study of simplified models: where each simple formula is good enough."""

from workflow.simplified import load_simplified_study
from workflow.wire_study import alloy_row, section_row

SIMPLE_FOLDER = "results/studies/simplified"

try:
    SIMPLE = load_simplified_study("configs/studies/simplified.yaml").model_dump(
        mode="json"
    )
except CaseError as error:
    raise WorkflowError(str(error)) from None

SIMPLE_LIMIT = SIMPLE["limit_percent"]


def yield_strain(alloy):
    row = alloy_row(alloy)
    return row["yield_strength_MPa"] / row["youngs_modulus_MPa"]


def support_in_plane(tooth):
    return of_study_teeth("support.json", [SIMPLE["planar"][tooth]])[0]


YIELD_STRAINS = {name: yield_strain(name) for name in SIMPLE["bending"]["yields"]}


rule simplified_bending:
    message:
        "Small-deflection formula of a clamped wire against the rod."
    output:
        table=numbers_of(
            f"{SIMPLE_FOLDER}/tables/bending.csv",
            "simplified_bending",
            SIMPLE["title"],
        ),
        svg=reported(
            f"{SIMPLE_FOLDER}/figures/bending.svg",
            "simplified_bending",
            SIMPLE["title"],
        ),
        png=f"{SIMPLE_FOLDER}/figures/bending.png",
    params:
        study=SIMPLE["bending"],
        limit=SIMPLE_LIMIT,
        alloy=alloy_row(SIMPLE["bending"]["alloy"]),
        section=section_row(SIMPLE["bending"]["section"]),
        yield_strains=YIELD_STRAINS,
        code=code_digest("simplified_bending"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_bending.log",
    benchmark:
        f"{SIMPLE_FOLDER}/logs/simplified_bending.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/simplified_bending.py"


rule simplified_tube:
    message:
        "A tube taken as a clamp or as two points, and its play, against the rod."
    output:
        table=numbers_of(
            f"{SIMPLE_FOLDER}/tables/tube.csv", "simplified_tube", SIMPLE["title"]
        ),
        play=reported(
            f"{SIMPLE_FOLDER}/tables/play.csv", "simplified_play", SIMPLE["title"]
        ),
        svg=reported(
            f"{SIMPLE_FOLDER}/figures/tube.svg", "simplified_tube", SIMPLE["title"]
        ),
        png=f"{SIMPLE_FOLDER}/figures/tube.png",
    params:
        study=SIMPLE["tube"],
        limit=SIMPLE_LIMIT,
        alloy=alloy_row(SIMPLE["tube"]["alloy"]),
        section=section_row(SIMPLE["tube"]["section"]),
        code=code_digest("simplified_tube"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_tube.log",
    benchmark:
        f"{SIMPLE_FOLDER}/logs/simplified_tube.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/simplified_tube.py"


rule simplified_centre:
    message:
        "The parabola's centre of resistance against finite elements: tooth {wildcards.tooth}."
    output:
        table=f"{SIMPLE_FOLDER}/tables/centre_{{tooth}}.csv",
    params:
        study=SIMPLE["centre"],
        code=code_digest("simplified_centre"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_centre_{{tooth}}.log",
    benchmark:
        f"{SIMPLE_FOLDER}/logs/simplified_centre_{{tooth}}.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=2000,
    script:
        "../scripts/simplified_centre.py"


rule simplified_centre_map:
    message:
        "Error maps of the parabola's centre of resistance, and all teeth beside it."
    input:
        tables=expand(
            rules.simplified_centre.output.table, tooth=SIMPLE["centre"]["teeth"]
        ),
        supports=of_study_teeth("support.json", STUDY_SUPPORTS),
    output:
        table=numbers_of(
            f"{SIMPLE_FOLDER}/tables/centre.csv", "simplified_centre", SIMPLE["title"]
        ),
        teeth=numbers_of(
            f"{SIMPLE_FOLDER}/tables/all_teeth.csv",
            "simplified_all_teeth",
            SIMPLE["title"],
        ),
        svg=reported(
            f"{SIMPLE_FOLDER}/figures/centre.svg", "simplified_centre", SIMPLE["title"]
        ),
        png=f"{SIMPLE_FOLDER}/figures/centre.png",
        teeth_svg=reported(
            f"{SIMPLE_FOLDER}/figures/all_teeth.svg",
            "simplified_all_teeth",
            SIMPLE["title"],
        ),
        teeth_png=f"{SIMPLE_FOLDER}/figures/all_teeth.png",
    params:
        teeth=list(STUDY_SUPPORTS),
        limit=SIMPLE_LIMIT,
        code=code_digest("simplified_centre_map"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_centre_map.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/simplified_centre_map.py"


rule simplified_winkler:
    message:
        "Springs square to the root against finite elements: tooth {wildcards.tooth}."
    input:
        thin_layer=rules.study_thin_layer.output.table,
    output:
        table=f"{SIMPLE_FOLDER}/tables/winkler_{{tooth}}.csv",
    params:
        code=code_digest("simplified_winkler"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_winkler_{{tooth}}.log",
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/simplified_winkler.py"


rule simplified_winkler_map:
    message:
        "Error map of springs square to the root."
    input:
        tables=expand(
            rules.simplified_winkler.output.table, tooth=STUDY["thin_layer"]["teeth"]
        ),
    output:
        table=numbers_of(
            f"{SIMPLE_FOLDER}/tables/winkler.csv",
            "simplified_winkler",
            SIMPLE["title"],
        ),
        svg=reported(
            f"{SIMPLE_FOLDER}/figures/winkler.svg",
            "simplified_winkler",
            SIMPLE["title"],
        ),
        png=f"{SIMPLE_FOLDER}/figures/winkler.png",
    params:
        limit=SIMPLE_LIMIT,
        code=code_digest("simplified_winkler_map"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_winkler_map.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/simplified_winkler_map.py"


rule simplified_planar:
    message:
        "Planar statics against the appliance in space."
    input:
        target=support_in_plane("target"),
        anchor=support_in_plane("anchor"),
    output:
        table=numbers_of(
            f"{SIMPLE_FOLDER}/tables/planar.csv", "simplified_planar", SIMPLE["title"]
        ),
        svg=reported(
            f"{SIMPLE_FOLDER}/figures/planar.svg", "simplified_planar", SIMPLE["title"]
        ),
        png=f"{SIMPLE_FOLDER}/figures/planar.png",
    params:
        study=SIMPLE["planar"],
        limit=SIMPLE_LIMIT,
        alloy=alloy_row(SIMPLE["planar"]["alloy"]),
        section=section_row(SIMPLE["planar"]["section"]),
        code=code_digest("simplified_planar"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_planar.log",
    benchmark:
        f"{SIMPLE_FOLDER}/logs/simplified_planar.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=1000,
    script:
        "../scripts/simplified_planar.py"


rule simplified_reused:
    message:
        "Limits of thin layers, rigid bodies and tight loops, from the tables of their studies."
    input:
        thin_layer=rules.study_thin_layer_map.output.table,
        rigidity=rules.study_rigidity_cost.output.table,
        small=rules.study_beam_theory_map.output.small,
    output:
        thin_layer_svg=reported(
            f"{SIMPLE_FOLDER}/figures/thin_layer.svg",
            "simplified_thin_layer",
            SIMPLE["title"],
        ),
        thin_layer_png=f"{SIMPLE_FOLDER}/figures/thin_layer.png",
        rigidity_svg=reported(
            f"{SIMPLE_FOLDER}/figures/rigidity.svg",
            "simplified_rigidity",
            SIMPLE["title"],
        ),
        rigidity_png=f"{SIMPLE_FOLDER}/figures/rigidity.png",
        loops_svg=reported(
            f"{SIMPLE_FOLDER}/figures/loops.svg", "simplified_loops", SIMPLE["title"]
        ),
        loops_png=f"{SIMPLE_FOLDER}/figures/loops.png",
    params:
        limit=SIMPLE_LIMIT,
        code=code_digest("simplified_reused"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_reused.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/simplified_reused.py"


rule simplified_page:
    message:
        "When is the simple formula good enough? Writing the page."
    input:
        bending=rules.simplified_bending.output.table,
        tube=rules.simplified_tube.output.table,
        play=rules.simplified_tube.output.play,
        centre=rules.simplified_centre_map.output.table,
        teeth=rules.simplified_centre_map.output.teeth,
        winkler=rules.simplified_winkler_map.output.table,
        planar=rules.simplified_planar.output.table,
        small=rules.study_beam_theory_map.output.small,
        far=rules.study_beam_theory_map.output.far,
        thin_layer=rules.study_thin_layer_map.output.table,
        rigidity=rules.study_rigidity_cost.output.table,
        bending_svg=[rules.simplified_bending.output.svg],
        tube_svg=[rules.simplified_tube.output.svg],
        centre_svg=[
            rules.simplified_centre_map.output.teeth_svg,
            rules.simplified_centre_map.output.svg,
        ],
        winkler_svg=[rules.simplified_winkler_map.output.svg],
        planar_svg=[rules.simplified_planar.output.svg],
        thin_layer_svg=[rules.simplified_reused.output.thin_layer_svg],
        rigidity_svg=[rules.simplified_reused.output.rigidity_svg],
        loops_svg=[rules.simplified_reused.output.loops_svg],
        page=["workflow/report/simplified.html.j2", "workflow/report/sheet.css"],
    output:
        page=reported(f"{SIMPLE_FOLDER}/simplified.html", "simplified", SIMPLE["title"]),
        limits=reported(
            f"{SIMPLE_FOLDER}/tables/limits.csv", "simplified_limits", SIMPLE["title"]
        ),
    params:
        study=SIMPLE,
        yield_strains=YIELD_STRAINS,
        code=code_digest("simplified_page"),
    log:
        f"{SIMPLE_FOLDER}/logs/simplified_page.log",
    threads: 1
    resources:
        mem_mb=500,
    script:
        "../scripts/simplified_page.py"


rule simplified_models:
    input:
        rules.simplified_page.output,
