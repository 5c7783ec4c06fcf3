"""The verification programme itself: what counts as passing, what is told, what is refused."""

import numpy as np
import pytest

from workflow.verification.__main__ import main
from workflow.verification.check import Check, Compared, Kind
from workflow.verification.faults import FAULTS, ROOT, Fault
from workflow.verification.programme import AREAS, all_checks
from workflow.verification.report import AREA_TITLES, failures, report_html, verdict
from workflow.verification.sources import DERIVED, SOURCES

MADE = {"code": {"version": "0", "commit": "c"}, "python": "3", "platform": "p"}


def check(compute, tolerance=0.1, name="one"):
    return Check(
        id=name,
        what="length, mm",
        code="fem.rod",
        kind=Kind.CODE,
        source="statics",
        place="p. 1",
        tolerance=tolerance,
        reason="why not",
        compute=compute,
    )


@pytest.mark.parametrize(
    ("compared", "error", "passed"),
    [
        (Compared(1.05, 1.0), 0.05, True),
        (Compared(0.85, 1.0), 0.15, False),
        (Compared([1.0, 2.3], [1.0, 2.0]), 0.15, False),
        (Compared([1.0, 2.3], [1.0, 2.0], scale=10.0), 0.03, True),
        (Compared(0.05, 0.0, scale=1.0), 0.05, True),
        (Compared(-1.0, 1.0), 2.0, False),
    ],
)
def test_the_largest_error_counts(compared, error, passed):
    row = check(lambda: compared).run()
    assert row.error == pytest.approx(error)
    assert row.passed == passed


@pytest.mark.parametrize(
    "compared",
    [Compared([1.0, np.nan], 1.0), Compared(1.0, 0.0), Compared(0.0, 0.0), Compared(np.inf, 1.0)],
)
def test_what_is_no_number_does_not_pass(compared):
    row = check(lambda: compared, tolerance=1e9).run()
    assert not row.passed
    assert row.record()["error"] is None


def test_the_worst_of_several_is_named():
    row = check(lambda: Compared([1.0, 1.02, 1.01], 1.0, labels=["a", "b", "c"])).run()
    assert (row.worst, row.numbers, row.computed) == ("b", 3, 1.02)


def test_a_check_that_raises_is_a_row_that_fails_and_says_why():
    def broken():
        raise RuntimeError("no mesh")

    row = check(broken).attempt()
    assert not row.passed
    assert row.note == "RuntimeError: no mesh"
    with pytest.raises(RuntimeError):
        check(broken).run()


def test_a_source_that_is_not_listed_is_refused():
    with pytest.raises(ValueError, match="source nobody is not listed"):
        Check("a", "b", "c", Kind.CODE, "nobody", "d", 1.0, "e", lambda: Compared(1, 1))


def test_the_programme_is_large_enough_and_rests_on_many_sources():
    checks = all_checks().values()
    sources = {check.source for check in checks}
    assert len(checks) >= 80
    assert len([key for key in sources if SOURCES[key].certainty != DERIVED]) >= 25
    assert set(AREA_TITLES) == set(AREAS)


def test_every_source_is_used():
    home = ROOT / "workflow" / "verification"
    texts = [file.read_text("utf-8") for file in home.glob("*.py") if file.name != "sources.py"]
    assert [key for key in SOURCES if not any(f'"{key}"' in text for text in texts)] == []


def test_every_check_says_what_where_and_why():
    for entry in all_checks().values():
        for text in (entry.what, entry.code, entry.place, entry.reason):
            assert text.strip(), entry.id
        for name in entry.code.split(", "):
            module = name.split(".")
            assert any(
                (ROOT / "/".join(module[:k])).with_suffix(".py").is_file()
                for k in range(1, len(module) + 1)
            ), f"{entry.id}: {name}"


def test_faults_stand_in_the_code_once_and_name_checks_that_exist():
    checks = all_checks()
    assert len(FAULTS) >= 15
    assert len({fault.check for fault in FAULTS}) >= 15
    for fault in FAULTS:
        assert fault.check in checks
        assert fault.planted((ROOT / fault.file).read_text(encoding="utf-8"))


def test_a_fault_that_is_nowhere_is_refused():
    with pytest.raises(ValueError, match="stands there 0 times"):
        Fault("sign", "fem/rod.py", "+ nothing", "- nothing", "one").planted("x = 1")


def records(*compared):
    rows = [check(lambda c=c: c, name=f"n{i}").run() for i, c in enumerate(compared)]
    return [{"area": "rods"} | row.record() | {"seconds": 0.1} for row in rows]


def fault(caught):
    return {
        "what": "a <sign>",
        "file": "fem/rod.py",
        "right": "+",
        "wrong": "-",
        "check": "n0",
        "caught": caught,
        "error": 0.5,
        "said": "",
    }


def test_failures_name_number_and_tolerance():
    found = records(Compared(1.0, 1.0), Compared(1.5, 1.0))
    first, second = failures(found, [fault(False), fault(True)])
    assert first == "n1: length, mm: computed 1.5, reference 1, error 0.5 of at most 0.1."
    assert second == "fault not noticed by n0: a <sign> (fem/rod.py)"
    assert verdict(found, [fault(False), fault(True)]).startswith("1 of 2 checks pass")
    assert "1 of 2 deliberate faults" in verdict(found, [fault(False), fault(True)])


def test_the_page_shows_failures_in_words_and_escapes(tmp_path):
    html = report_html(
        records(Compared(1.5, 1.0), Compared(1.0, 1.0)), [fault(False)], {}, tmp_path, MADE
    )
    assert html.count("FAILS") == 1
    assert html.count(">passes<") == 1
    assert "NOT NOTICED" in html
    assert "a &lt;sign&gt;" in html
    assert "http" not in html.replace("http://www.w3.org", "")


def test_the_command_line_tells_by_its_status(capsys):
    assert main(["shear_factors"]) == 0
    assert "passed  shear_factors" in capsys.readouterr().out
    assert main(["shear_factor"]) == 2
    assert "did you mean shear_factors?" in capsys.readouterr().err
