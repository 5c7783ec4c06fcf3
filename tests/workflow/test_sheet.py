"""The sheet of the finished run beside the records it was written from, and its printing."""

import pandas as pd
import pytest
import yaml

from tests.sheet_numbers import complaints
from workflow.records import read_json
from workflow.sheet_records import SheetRecords


@pytest.fixture(scope="module")
def records(finished):
    results = finished.results
    provenance = read_json(results / "provenance.json")
    supports = {
        int(tooth): read_json(finished.folder / f"results/supports/{name}/support.json")
        for tooth, name in provenance["stages"]["supports"].items()
    }
    return SheetRecords(
        case=yaml.safe_load((results / "case.resolved.yaml").read_text(encoding="utf-8")),
        summary=read_json(results / "summary.json"),
        solved=read_json(results / "equilibrium.json"),
        bilinear=read_json(results / "bilinear.json"),
        provenance=provenance,
        supports=supports,
        checks=pd.read_csv(results / "tables" / "checks.csv"),
        curve=read_json(results / "force_activation.json"),
        scenes=read_json(results / "scenes.json"),
    )


@pytest.fixture(scope="module")
def html(finished):
    return (finished.results / "sheet.html").read_text(encoding="utf-8")


def test_every_number_on_the_sheet_has_its_source(html, records):
    assert complaints(html, records) == []


def test_a_number_that_is_not_the_result_is_noticed(html, records):
    couple = f"{records.summary['wire']['couple_gfmm']:.0f}\u00a0gf·mm"
    assert couple == "1200\u00a0gf·mm"
    assert any(
        "1210 gf·mm" in text for text in complaints(html.replace(couple, "1210 gf·mm"), records)
    )


def test_printing_is_no_part_of_the_default_run(finished):
    assert finished.planned() == {}
    target = f"results/cases/{finished.results.name}/sheet.pdf"
    assert finished.planned(target) == {"sheet_pdf": 1}
