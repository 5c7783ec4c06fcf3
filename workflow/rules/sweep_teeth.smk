"""Teeth of studies that have many: some twenty a job, each kept as soon as it is made.

A job that is killed loses the tooth it was at; a tooth that is there, of this code and whole, is
never made twice, whichever study asks for it.
"""

from workflow.sweep_chunks import chunks_of, in_chunks

TEETH_FOLDER = "results/teeth"


def chunked(name):
    """Whether a study's teeth are made many a job."""
    return in_chunks(len(supports_of_sweep(name)), sweep_of(name).study.teeth_in_chunks)


def folder_of_teeth(wildcards):
    return TEETH_FOLDER if chunked(wildcards.sweep) else SUPPORT_FOLDER


def specs_of_chunk(wildcards):
    return chunks_of(supports_of_sweep(wildcards.sweep))[int(wildcards.chunk)]


def records_of_chunks(wildcards):
    """Records of a study's chunks; none where each tooth has jobs of its own."""
    if not chunked(wildcards.sweep):
        return []
    count = len(chunks_of(supports_of_sweep(wildcards.sweep)))
    pattern = "results/studies/{sweep}/teeth/{chunk}.json"
    return expand(pattern, sweep=wildcards.sweep, chunk=range(count))


wildcard_constraints:
    chunk="[0-9]+",


rule sweep_teeth:
    message:
        "Chunk {wildcards.chunk} of the teeth of the study {wildcards.sweep}: what is missing."
    output:
        record="results/studies/{sweep}/teeth/{chunk}.json",
    params:
        specs=specs_of_chunk,
        folder=TEETH_FOLDER,
        code=code_digest("sweep_teeth"),
    log:
        "results/studies/{sweep}/logs/sweep_teeth_{chunk}.log",
    benchmark:
        "results/studies/{sweep}/logs/sweep_teeth_{chunk}.benchmark.tsv"
    threads: 1
    resources:
        mem_mb=lambda wildcards, attempt: 2000 * attempt,  # a coarse molar takes 560
    script:
        "../scripts/sweep_teeth.py"
