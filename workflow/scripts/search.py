from pathlib import Path

from workflow import figures_search as drawn
from workflow.figures import save_figure, write_table
from workflow.job import job
from workflow.records import write_json
from workflow.search import find_designs
from workflow.search_config import load_search
from workflow.search_field import hook_places
from workflow.search_report import chosen_text, search_report
from workflow.yaml_files import read_mapping

if __name__ == "__main__":  # processes that start afresh read this file again
    with job(snakemake):
        search, case = load_search(snakemake.input.search)
        content, teeth = read_mapping(Path(snakemake.input.case)), snakemake.params.teeth
        supports = dict(zip(teeth, snakemake.input.supports, strict=True))
        bases = dict(zip(teeth, snakemake.input.bases, strict=True))
        hooks = hook_places(search, content, supports, snakemake.input.search)
        found = find_designs(search, hooks, bases, snakemake.threads)
        report = search_report(search, hooks, found)
        print(report["said"])
        out = snakemake.output
        write_json(out.report, report)
        Path(out.chosen).write_text(chosen_text(report), encoding="utf-8")
        write_table(found.feasible, out.feasible)
        map_table, binding = drawn.trade_off_table(found), drawn.binding_table(found)
        write_table(map_table, out.map_csv)
        write_table(binding, out.binding_csv)
        figure = drawn.trade_off_figure(map_table, found, search.title)
        said = drawn.trade_off_text(found, search.title).in_file()
        save_figure(figure, out.map_svg, out.map_png, **said)
        figure = drawn.binding_figure(binding, search.title)
        said = drawn.binding_text(binding, search.title).in_file()
        save_figure(figure, out.binding_svg, out.binding_png, **said)
