"""Every page that the project writes, from inputs that take no time."""

from tests.browser.explorer import runs
from tests.browser.explorer import written as write_explorer
from tests.comparison_example import QUESTION, compared_cases
from tests.unit import test_choice, test_programme, test_reproduction, test_simplified
from workflow.choice import rank
from workflow.choice_tables import ranking_html
from workflow.comparison_page import comparison_html
from workflow.figures import new_figure, save_figure
from workflow.provenance import made_by
from workflow.reproduction_page import agreement_html
from workflow.simplified_page import page_html
from workflow.verification.report import report_html


def _written(folder, text):
    path = folder / "page.html"
    path.write_text(text, encoding="utf-8")
    return path


def _picture(folder):
    path = folder / "picture.svg"
    figure = new_figure(8, 3)
    figure.subplots().plot([0, 1])
    save_figure(figure, str(path), title="A line", description="A straight line.")
    return path


def explorer(folder):
    return write_explorer(runs(600), folder)


def choice(folder):
    """Set-ups that are ranked and others that are disqualified."""
    wanted = test_choice.choice_of(base={"limits": {"force_range_gf": [15, 75]}})
    ranked = rank(wanted, test_choice.Bench(force_N=0.3))
    assert len({bool(r.disqualified) for r in ranked}) == 2
    return _written(folder, ranking_html(wanted, ranked))


def comparison(folder):
    return _written(folder, comparison_html("hooks", QUESTION, compared_cases()))


def simplified(folder):
    parts = test_simplified.found()
    picture = str(_picture(folder))
    figures = {part.name: [picture] for part in parts}
    return _written(folder, page_html("Good enough?", 5.0, parts, figures))


def verification(folder):
    """Checks that pass and fail, faults that are noticed and not, a figure."""
    (folder / "rods").mkdir()
    picture = _picture(folder / "rods")
    compared = test_programme.Compared
    html = report_html(
        test_programme.records(compared(1.5, 1.0), compared([1.0, 2.0], [1.0, 2.0])),
        [test_programme.fault(False), test_programme.fault(True)],
        {"rods": [{"name": picture.stem, "caption": "A straight line."}]},
        folder,
        test_programme.MADE,
    )
    return _written(folder, html)


def reproduction(folder):
    """One figure that agrees, one that differs, columns left out."""
    project = test_reproduction.two_tables(folder)
    test_reproduction.edit(project, "2.0", "2.04")
    records = test_reproduction.records_of(project)
    closeness = project[1].closeness.model_dump()
    return _written(folder, agreement_html(records, 5, closeness, made_by()))
