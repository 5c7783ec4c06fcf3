from pathlib import Path

from workflow.figures import save_figure, write_table
from workflow.figures_sweep import interaction_figure, main_effects_figure
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
    table, names = main_effects(rows, study), ["main_effects"]
    write_table(table, folder / "main_effects.csv")
    figures = [main_effects_figure(table, study, runs_text(rows))]
    if len(study.factors) > 1:
        pairs = interactions(rows, study)
        write_table(pairs, folder / "interactions.csv")
        names += [f"interactions_{response}" for response in study.responses]
        figures += [interaction_figure(pairs, study, name) for name in study.responses]
    chapters = list(chapters_of(study, rows, snakemake.input.chunks))
    for chapter in chapters:
        if chapter.figure is not None:
            write_table(chapter.table, folder / f"{chapter.name}.csv")
            names, figures = [*names, chapter.name], [*figures, chapter.figure]
    for name, figure in zip(names, figures, strict=True):
        save_figure(figure, *(str(folder / f"{name}.{kind}") for kind in ("svg", "png")))
    words = {chapter.heading: chapter.text for chapter in chapters}
    text = report_text(loaded, rows, [f"figures/{name}.png" for name in names], words)
    Path(snakemake.output.report).write_text(text, encoding="utf-8")
