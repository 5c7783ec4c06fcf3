"""Every word, colour and layout before a reader has a known origin."""

from collections import Counter
from pathlib import Path

import pytest

from tests import origins
from workflow.yaml_files import read_mapping

FILE = Path("workflow/report/origins.yaml")
KINDS = {
    "trade term",
    "common practice",
    "standard",
    "published",
    "published palette",
    "own choice",
}
LISTED = read_mapping(FILE)
FOUND = {
    "texts": origins.texts(),
    "colours": origins.colours(),
    "colour_maps": origins.colour_maps(),
    "layouts": dict.fromkeys(origins.layouts(), "a page or a module that draws"),
}
PARTS = pytest.mark.parametrize("part", FOUND)


def entries(part):
    return [str(entry) for group in LISTED[part] for entry in group["entries"]]


@PARTS
def test_everything_shown_is_in_the_list(part):
    missing = {f"{what} ({where})" for what, where in FOUND[part].items()} - {
        f"{what} ({FOUND[part].get(what)})" for what in entries(part)
    }
    assert sorted(missing) == [], f"add to {FILE} under {part}"


@PARTS
def test_the_list_names_nothing_that_is_nowhere(part):
    assert sorted(set(entries(part)) - set(FOUND[part])) == [], f"remove from {FILE}, {part}"


@PARTS
def test_every_entry_has_one_origin(part):
    twice = [entry for entry, count in Counter(entries(part)).items() if count > 1]
    assert twice == []
    for group in LISTED[part]:
        assert set(group) == {"kind", "origin", "entries"}
        assert group["kind"] in KINDS
        assert len(group["origin"]) > 15
        assert group["entries"]


def test_the_search_finds_what_is_there(tmp_path):
    page, script, module = (tmp_path / name for name in ("a.html.j2", "a.js", "figures_a.py"))
    page.write_text("<h2>Free {{ x }} bodies</h2><p>said</p><td aria-label='Sum'>", "utf-8")
    script.write_text('button.textContent = "Show all"; const kind = "linear";', "utf-8")
    module.write_text('axes.set_xlabel(f"span {x} (mm)")\nHEAD = ("Unit", "of")\n', "utf-8")
    assert origins.texts([page, script, module]).keys() == {
        "Free … bodies",
        "Sum",
        "Show all",
        "span … (mm)",
        "Unit",
        "of",
    }
    assert len(origins.texts()) > 300
    assert len(origins.colours()) > 30
