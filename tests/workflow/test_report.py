"""The report of a finished run: complete, in chapters, in words, made without a network."""

import json
import re
from pathlib import Path
from zipfile import ZipFile

import pytest

from workflow.report_story import CHAPTERS, RESULTS

WORKFLOW = Path("workflow")
RULES = "\n".join(path.read_text(encoding="utf-8") for path in WORKFLOW.glob("rules/*.smk"))
PICTURE = (".svg", ".png", ".pdf")
# Chapter of some of what a case holds, as a reader would look for it.
PLACES = {
    "sheet.html": "case",
    "figures/appliance_3d.csv": "set_up",
    "figures/bench_template.pdf": "set_up",
    "figures/free_body.svg": "loads",
    "tables/units.csv": "loads",
    "figures/force_activation.svg": "wire",
    "figures/movement.svg": "movement",
    "figures/ligament_stress.csv": "ligament",
    "tables/ligament.csv": "ligament",
    "tables/checks.csv": "checks",
    "provenance.json": "checks",
}


@pytest.fixture(scope="module")
def report(finished, tmp_path_factory):
    """Results and chapters of the report of the demonstration, its ways to the network closed."""
    path = tmp_path_factory.mktemp("report") / "report.zip"
    with pytest.MonkeyPatch.context() as patch:
        for name in ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY"):
            patch.setenv(name, "http://127.0.0.1:9")
        finished.snakemake("--report", str(path))
    with ZipFile(path) as packed:
        page = packed.read("report/report.html").decode("utf-8")
    data = r'<script id="{}">\s*var \w+ = (.*?);\s*</script>'
    return {
        name: json.loads(re.search(data.format(name), page, re.S)[1])
        for name in ("results", "categories", "workflow-desc")
    }


def in_case(finished, report):
    """Results of the report by their path within the folder of the case."""
    prefix = f"{finished.results.relative_to(finished.folder)}/"
    return {path.removeprefix(prefix): found for path, found in report["results"].items()}


def test_every_figure_and_table_of_the_case_is_in_the_report(finished, report):
    found = in_case(finished, report)
    made = [p.relative_to(finished.results) for p in finished.results.glob("[ft]*/*.*")]
    tables = [str(path) for path in made if path.suffix == ".csv"]
    figures = {str(path.with_suffix("")) for path in made if path.suffix in PICTURE}
    assert len(tables) > 10
    assert len(figures) > 6
    assert set(tables) <= set(found)
    assert figures <= {str(Path(path).with_suffix("")) for path in found if path.endswith(PICTURE)}
    assert "sheet.html" in found


def test_results_stand_in_their_chapter_with_words_and_a_name_of_their_own(finished, report):
    chapters = report["categories"]
    assert set(chapters) <= set(CHAPTERS.values())
    (folder,) = {name for parts in chapters.values() for name in parts}
    assert "lower_molar_uprighting" in folder
    prefix = finished.results.relative_to(finished.folder)
    for path, chapter in PLACES.items():
        assert str(prefix / path) in chapters[CHAPTERS[chapter]][folder], path
    for path, result in report["results"].items():
        assert len(re.sub("<.*?>", "", result["caption"])) > 40, path
        assert "snakemake" not in result["caption"], path
    for parts in chapters.values():
        labels = [report["results"][path]["labels"]["Result"] for path in parts[folder]]
        assert len(labels) == len(set(labels))


def test_names_carry_the_numbers_of_the_run(finished, report):
    """1200 gf·mm are the couple that the case asks for."""
    label = in_case(finished, report)["figures/free_body.svg"]["labels"]["Result"]
    assert "(1200 gf·mm)" in label
    checks = (finished.results / "tables" / "checks.csv").read_text(encoding="utf-8")
    passed = checks.count(",True,")
    label = in_case(finished, report)["tables/checks.csv"]["labels"]["Result"]
    assert label.endswith(f"{passed} of {len(checks.splitlines()) - 1} pass")


def test_the_report_opens_with_the_question_and_the_caution(report):
    said = re.sub(r"<.*?>|\s+", " ", report["workflow-desc"])
    assert "held at two points on one tooth" in said
    assert "not a medical device" in said
    assert [name[:2] for name in CHAPTERS.values() if name[:2] not in said] == []


def outputs():
    """Output blocks of all rules."""
    return re.findall(r"^ +output:\n((?: {8,}.*\n)+)", RULES, re.M)


def test_every_figure_that_a_rule_draws_is_told_in_the_report():
    """Read in the rules: of each figure one file is in the report, and its table too."""
    drawn = 0
    for block in outputs():
        told = set(re.findall(r'(?:reported|numbers_of)\(\s*f?"([^"]+)\.\w+"', block))
        for stem in set(re.findall(r'"([^"]+)\.(?:svg|png)"', block)):
            drawn += 1
            assert stem in told, stem
        for folder in re.findall(r"(?<!_)figures=(.*)", block):
            assert folder.startswith("reported("), folder
    assert drawn > 25


def test_every_result_has_words_and_is_used():
    used = set(re.findall(r'(?:reported|numbers_of)\([^"]*"[^"]+"\)?,\s*"(\w+)"', RULES))
    captions = {path.stem for path in WORKFLOW.glob("report/captions/*.rst")} - {"workflow"}
    assert used == set(RESULTS) == captions
