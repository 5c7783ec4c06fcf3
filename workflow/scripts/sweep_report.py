from pathlib import Path

from workflow import figures_sweep as drawn
from workflow.figures import save_figure, write_table
from workflow.job import job
from workflow.sweep_chapters import chapters_of
from workflow.sweep_config import load_parameter_study
from workflow.sweep_effects import interactions, main_effects
from workflow.sweep_report import read_runs, report_text, runs_text

with job(snakemake):
    loaded = load_parameter_study(snakemake.input.study)
    rows = read_runs(snakemake.input.parquet)
    folder = Path(snakemake.output.figures)
    folder.mkdir(parents=True)
    study = loaded.study
    table, runs = main_effects(rows, study), runs_text(rows)
    write_table(table, folder / "main_effects.csv")
    said = {"main_effects": drawn.main_effects_text(table, study, runs)}
    figures = [drawn.main_effects_figure(table, study, runs)]
    if len(study.factors) > 1:
        pairs = interactions(rows, study)
        write_table(pairs, folder / "interactions.csv")
        for name in study.responses:
            said[f"interactions_{name}"] = drawn.interaction_text(pairs, study, name)
        figures += [drawn.interaction_figure(pairs, study, name) for name in study.responses]
    chapters = list(chapters_of(study, rows, snakemake.input.chunks))
    for chapter in chapters:
        if chapter.figure is not None:
            write_table(chapter.table, folder / f"{chapter.name}.csv")
            said[chapter.name] = drawn.chapter_text(study, chapter.heading, chapter.table)
            figures.append(chapter.figure)
    for (name, text), figure in zip(said.items(), figures, strict=True):
        files = [str(folder / f"{name}.{kind}") for kind in ("svg", "png")]
        save_figure(figure, *files, **text.in_file())
    words = {chapter.heading: chapter.text for chapter in chapters}
    text = report_text(loaded, rows, [f"figures/{name}.png" for name in said], words)
    Path(snakemake.output.report).write_text(text, encoding="utf-8")
