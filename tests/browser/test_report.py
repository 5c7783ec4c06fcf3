"""The report as a reviewer opens it: unpacked from its archive, network off."""

from zipfile import ZipFile

import pytest

PAINTED = "first-contentful-paint"
SHOW = """
const entry = results[arguments[0]];
app.setView({content: "img", contentPath: entry.data_uri, resultPath: arguments[0]});
"""


@pytest.fixture(scope="module")
def unpacked(finished, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    finished.snakemake("--report", str(folder / "report.zip"))
    with ZipFile(folder / "report.zip") as packed:
        packed.extractall(folder)
    return folder / "report" / "report.html"


@pytest.fixture
def report(unpacked, browser_page):
    page = browser_page(unpacked).open(ready=PAINTED)
    page.wait("return typeof app === 'object' && document.querySelector('#app h1') !== null")
    return page


def test_every_chapter_opens_and_shows_its_results(report):
    for chapter in report.run("return Object.keys(categories)"):
        report.run("app.setView({navbarMode: 'menu'})")  # a reader goes home in between
        report.wait("return document.querySelector('#app').innerText.includes('Statistics')")
        report.run("app.showCategory(arguments[0])", chapter)
        report.wait(
            "return document.querySelector('#app').innerText.includes(arguments[0])", chapter
        )
        labels = report.run(
            """return Object.values(categories[arguments[0]]).flat()
                 .map((path) => results[path].labels.Result)""",
            chapter,
        )
        report.wait(
            """const shown = document.querySelector('#app').innerText;
               return arguments[0].every((label) => shown.includes(label))""",
            labels,
        )
    assert report.requests() == []


def test_every_picture_is_drawn_with_its_words_and_every_file_is_there(report, unpacked):
    found = report.run("return Object.entries(results).map(([k, r]) => [k, r.data_uri, r.caption])")
    assert [path for path, uri, _ in found if not (unpacked.parent / uri).is_file()] == []
    pictures = [(path, words) for path, _, words in found if path.endswith((".svg", ".png"))]
    assert len(pictures) > 6
    for path, words in pictures:
        report.run(SHOW, path)
        report.wait(
            """const image = document.querySelector('#app img[src^="data/raw"]');
               return image && image.src.endsWith(arguments[0])
                 && image.complete && image.naturalWidth > 300""",
            path.rsplit("/", 1)[-1],
        )
        report.run("app.showResultInfo(arguments[0])", path)
        first = words.removeprefix("<p>").split("\n")[0]
        report.wait("return document.querySelector('#app').innerHTML.includes(arguments[0])", first)
    assert report.requests() == []


def test_nothing_of_it_is_cut_off_at_the_top(report):
    """A page taller than the window starts where it can be read."""
    report.open(1280, 500, ready=PAINTED)
    report.wait("return document.querySelector('#app h1') !== null")
    assert report.run("return document.querySelector('#app h1').getBoundingClientRect().top") >= 0
