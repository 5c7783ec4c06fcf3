"""Choosing a set-up: the score by hand, the set-ups by counting, the file by its faults."""

import math
from dataclasses import replace
from pathlib import Path
from zlib import crc32

import numpy as np
import pandas as pd
import pytest
import yaml

from workflow.case import load_case, resolved, validate_case
from workflow.case_errors import CaseError
from workflow.choice import Outcome, rank
from workflow.choice_config import WORDS, Choice
from workflow.choice_file import load_choice
from workflow.choice_score import agreement, aims_of, leading_aim, reasons, shares
from workflow.choice_setups import base_case, candidates, case_content, hook_sites
from workflow.choice_tables import best_cases, parts_table, ranking_html, ranking_table
from workflow.figures_choice import choice_figure
from workflow.words import COMPONENTS, movement_words

WIRE = {"alloy": "beta_titanium", "section": "rectangular_0.017x0.025_in"}
UNITS = {
    "molar": {"teeth": [37], "role": "target"},
    "segment": {"teeth": [35, 34, 33], "role": "anchor"},
}
NO_LIMIT = {"force_range_gf": [1, 2000]}
WISHES = {
    "molar": {"distal_crown_tip": {"wish": "wanted", "amount": 2}, "extrusion": "unwanted"},
    "segment": {"intrusion": "wanted"},
}
STILL = dict.fromkeys(COMPONENTS, 0.0)


def choice_of(wishes=WISHES, units=UNITS, missing=(36,), base=None, **rest):
    common = {"missing": list(missing), "units": units, "wire": WIRE, "limits": NO_LIMIT}
    common |= base or {}
    return Choice.model_validate(
        {"choice": "example", "title": "An example", "base": common, "wishes": wishes} | rest
    )


def moved(molar=None, segment=None):
    return {"molar": STILL | (molar or {}), "segment": STILL | (segment or {})}


# The score.


def test_cosine_of_a_three_four_five_triangle():
    """Wanted 2 mrad over a lever of 10 mm, found 3 mrad of it and 40 µm unwanted: 30/50."""
    choice = choice_of({"molar": WISHES["molar"]})
    found = moved({"mesial_tip_mrad": -3.0, "extrusion_um": 40.0})
    assert agreement(aims_of(choice), found) == pytest.approx(0.6, rel=1e-12)
    assert shares(aims_of(choice), found) == pytest.approx([-4 / 7, 3 / 7])


def test_weights_count_as_often_as_they_say():
    """Two wanted alike, one found alone: cosine 1/√2, and √3/2 where it weighs three times."""
    for weight, expected in ((1, 0.5**0.5), (3, 0.75**0.5)):
        wish = {"wish": "wanted", "amount": 5, "weight": weight}
        choice = choice_of(
            {"molar": {"intrusion": wish, "distal": {"wish": "wanted", "amount": 5}}}
        )
        found = moved({"extrusion_um": -7.0})
        assert agreement(aims_of(choice), found) == pytest.approx(expected, rel=1e-12)


def test_all_as_wanted_is_one_and_all_opposite_minus_one():
    choice = choice_of()
    right = moved({"mesial_tip_mrad": -2.0}, {"extrusion_um": -10.0})
    wrong = moved({"mesial_tip_mrad": 2.0}, {"extrusion_um": 10.0})
    assert agreement(aims_of(choice), right) == pytest.approx(1, rel=1e-12)
    assert agreement(aims_of(choice), wrong) == pytest.approx(-1, rel=1e-12)
    assert agreement(aims_of(choice), moved()) == 0.0


def test_only_the_unwanted_way_of_a_movement_counts():
    choice = choice_of({"molar": WISHES["molar"]})
    sinks = moved({"mesial_tip_mrad": -2.0, "extrusion_um": -40.0})
    assert agreement(aims_of(choice), sinks) == pytest.approx(1, rel=1e-12)


def test_what_no_one_cares_for_does_not_count_unless_the_rest_is_unwanted():
    found = moved({"mesial_tip_mrad": -2.0}, {"buccal_um": 20.0})
    molar = {"distal_crown_tip": {"wish": "wanted", "amount": 2}}
    lax = choice_of({"molar": molar})
    strict = choice_of({"molar": molar, "segment": {"otherwise": "unwanted"}})
    assert agreement(aims_of(lax), found) == pytest.approx(1)
    assert agreement(aims_of(strict), found) == pytest.approx(0.5**0.5)


def test_words_of_wishes_are_those_of_movements():
    """Each of the twelve words names the movement for which movement_words says it."""
    assert len(WORDS) == 12
    for component, sign, word in WORDS.values():
        said = movement_words(STILL | {component: float(sign)})
        assert word in [each.word for each in said if each.size > 0]


def test_reasons_say_what_is_wanted_and_what_is_not():
    choice = choice_of()
    found = moved({"mesial_tip_mrad": -2.1, "extrusion_um": 14.0}, {"extrusion_um": 3.0})
    assert reasons(aims_of(choice), found, {"molar": 1, "segment": 3}) == [
        "molar: extrudes 14.0 µm (unwanted), its crown tips distally 2.10 mrad (wanted 2)",
        "segment: extrudes 3.00 µm (against the wish)",
    ]


# The set-ups.


def test_every_tube_hook_and_side_once():
    """1 tube × 5 places of the hook and 3 tubes × 1 place, from 2 sides; 4 with one across."""
    flat = candidates(choice_of())
    assert len(flat) == len({c.name for c in flat}) == 2 * (5 + 3)
    assert len(candidates(choice_of({"molar": {"buccal": "wanted"}}))) == 4 * (5 + 3)
    assert {c.tube for c in candidates(choice_of(tubes=[37]))} == {37}


@pytest.mark.parametrize(
    ("teeth", "missing", "gaps"),
    [
        ((33, 34, 35), (), [(33, 34), (34, 35)]),
        ((35, 33, 34), (), [(33, 34), (34, 35)]),
        ((33, 35), (), []),
        ((33, 35), (34,), [(33, 35)]),
        ((31, 41), (), [(41, 31)]),
        ((13,), (), []),
    ],
)
def test_hooks_rest_at_brackets_and_between_neighbours(teeth, missing, gaps):
    sites = list(hook_sites(teeth, missing))
    assert [site for site in sites if len(site) == 2] == gaps
    assert {site[0] for site in sites if len(site) == 1} == set(teeth)


def test_every_set_up_is_a_case():
    choice = choice_of({"molar": {"buccal": "wanted"}}, base={"one_point": {"contact": "tied"}})
    for candidate in candidates(choice):
        content = case_content(choice, candidate, 7.0)
        case = resolved(validate_case(content, "example"))
        assert case["wire"]["activation"]["pulls"] == candidate.pulls
        assert case["one_point"]["contact"] == "tied"
        assert case["two_point"]["tooth"] == candidate.tube


# The ranking, on set-ups that move in proportion to their couple.


class Bench:
    """A solver with a movement of its own for every set-up."""

    def __init__(self, force_N=0.05, power=1.0):
        self.force_N = force_N
        self.power = power  # of the couple, with which movements grow
        self.known = {}

    def key(self, case):
        one = case.one_point
        hook = (one.tooth,) if one.tooth else tuple(sorted(one.between))
        return case.two_point.tooth, hook, case.wire.activation.pulls

    def per_Nmm(self, key, units):
        if key not in self.known:
            mixed = np.random.default_rng(crc32(repr(key).encode()))
            self.known[key] = {
                name: dict(zip(COMPONENTS, mixed.normal(size=6), strict=True))
                for name in sorted(units)
            }
        return self.known[key]

    def __call__(self, case):
        couple = case.wire.activation.wanted_couple_Nmm
        one = Outcome(1.0, self.force_N, 0.05, self.per_Nmm(self.key(case), case.units))
        return replace(one.scaled(couple), movements=one.scaled(couple**self.power).movements)


def key_of_candidate(c):
    return c.tube, tuple(sorted(c.hook)), c.pulls


def wishes_for(movements):
    """Wishes for exactly these movements and for nothing else."""
    words = {(component, sign): word for word, (component, sign, _) in WORDS.items()}
    return {
        unit: {
            words[component, int(np.sign(size))]: {"wish": "wanted", "amount": abs(size)}
            for component, size in moved.items()
        }
        | {"otherwise": "unwanted"}
        for unit, moved in movements.items()
    }


def test_a_set_up_is_first_by_its_own_movement():
    """Cosine 1 is reached by what is parallel alone (Cauchy and Schwarz)."""
    bench = Bench()
    rank(choice_of(), bench)
    for wanted in candidates(choice_of()):
        wishes = wishes_for(bench.known[key_of_candidate(wanted)])
        best, second, *_ = rank(choice_of(wishes), bench)
        assert best.candidate == wanted
        assert best.agreement == pytest.approx(1, rel=1e-9)
        assert best.exact
        assert second.agreement < 1


def names(ranked):
    return [key_of_candidate(r.candidate) for r in ranked]


def test_ranking_does_not_depend_on_order_or_scale():
    bench = Bench()
    plain = rank(choice_of(), bench)
    turned_units = {name: UNITS[name] | {"teeth": UNITS[name]["teeth"][::-1]} for name in UNITS}
    turned = dict(reversed(turned_units.items()))
    swapped = {unit: dict(reversed(w.items())) for unit, w in reversed(WISHES.items())}
    assert names(rank(choice_of(swapped, turned), bench)) == names(plain)
    larger = {
        "molar": WISHES["molar"] | {"distal_crown_tip": {"wish": "wanted", "amount": 3}},
        "segment": {"intrusion": {"wish": "wanted", "amount": 15}},
    }
    scaled = rank(choice_of(larger), bench)
    assert names(scaled) == names(plain)
    for one, other in zip(plain, scaled, strict=True):
        assert other.agreement == pytest.approx(one.agreement, rel=1e-12)
    assert names(rank(choice_of(first_couple_Nmm=0.5), bench)) == names(plain)


def test_set_ups_are_compared_where_the_leading_wish_is_met():
    choice = choice_of()
    lead = leading_aim(aims_of(choice))
    assert lead.word == "distal crown tip"
    for r in rank(choice, Bench()):
        if r.disqualified:
            assert "wrong direction: molar gets mesial crown tip" in r.disqualified
            assert lead.along(r.outcome.movements) <= 0
        else:
            assert lead.along(r.outcome.movements) == pytest.approx(2, rel=1e-3)


def test_the_best_three_are_solved_at_their_couple():
    """Where movement grows as couple^1.2: m c^1.2 = 2 gives the couple, (2/m)^(1/1.2)."""
    bench = Bench(power=1.2)
    good = [r for r in rank(choice_of(), bench) if not r.disqualified]
    assert len(good) > 3
    assert [r.exact for r in good] == [True] * 3 + [False] * (len(good) - 3)
    for r in good[:3]:
        each = -bench.known[key_of_candidate(r.candidate)]["molar"]["mesial_tip_mrad"]
        assert r.outcome.couple_Nmm == pytest.approx((2 / each) ** (1 / 1.2), rel=1e-3)
        assert r.outcome.movements["molar"]["mesial_tip_mrad"] == pytest.approx(-2, rel=1e-3)


def test_too_much_force_disqualifies():
    """75 gf is 0.7355 N by definition of the gram-force."""
    limit = {"limits": {"force_range_gf": [15, 75]}}
    ranked = rank(choice_of(base=limit), Bench(force_N=0.3))
    good = [r for r in ranked if not r.disqualified]
    assert good
    for r in ranked:
        if "force" in r.disqualified:
            assert r.outcome.force_N > 0.7354
        elif not r.disqualified:
            assert r.outcome.force_N < 0.7356
    assert any("above the 75 gf" in r.disqualified for r in ranked)


def test_a_set_up_that_cannot_be_solved_is_told_and_goes_last():
    bench = Bench()

    def solver(case):
        if case.two_point.tooth == 34:
            raise ValueError("the wire does not reach\nsecond line")
        return bench(case)

    ranked = rank(choice_of(), solver)
    last = [r for r in ranked if r.outcome is None]
    assert ranked[-len(last) :] == last
    assert {r.candidate.tube for r in last} == {34}
    assert {r.disqualified for r in last} == {"cannot be engaged: the wire does not reach"}


# What is written.


def test_best_set_ups_are_written_as_cases(tmp_path):
    choice = choice_of(base={"teeth": {37: {"mesial_tip_deg": 25}}})
    ranked = rank(choice, Bench())
    files = best_cases(choice, ranked)
    assert list(files) == ["example_1", "example_2", "example_3"]
    for (name, text), r in zip(files.items(), ranked, strict=False):
        path = tmp_path / f"{name}.yaml"
        path.write_text(text, encoding="utf-8")
        case = load_case(path)
        assert case.two_point.tooth == r.candidate.tube
        assert case.wire.activation.pulls == r.candidate.pulls
        assert case.wire.activation.couple_Nmm == pytest.approx(r.outcome.couple_Nmm, rel=1e-5)
        assert case.teeth[37].mesial_tip_deg == 25


def test_tables_and_page_hold_the_ranking():
    choice = choice_of(title="Molar <upright> & canine")
    ranked = rank(choice, Bench())
    table, parts = ranking_table(choice, ranked), parts_table(choice, ranked)
    assert list(table["set_up"]) == [r.candidate.name for r in ranked]
    good = [r for r in ranked if not r.disqualified]
    assert list(table["rank"].dropna()) == list(range(1, len(good) + 1))
    sizes = parts.assign(share=parts["share"].abs()).groupby("set_up")["share"].sum()
    assert sizes.to_numpy() == pytest.approx(np.ones(len(ranked)))
    page = ranking_html(choice, ranked)
    assert "Molar &lt;upright&gt; &amp; canine" in page
    assert "<upright>" not in page
    for r in ranked:
        assert r.candidate.words.replace("'", "&#39;") in page


def test_figure_draws_the_parts(tmp_path):
    choice = choice_of()
    parts = parts_table(choice, rank(choice, Bench()))
    axes = choice_figure("An example", parts).axes[0]
    drawn = sorted(bar.get_width() for bar in axes.patches)
    assert drawn == pytest.approx(sorted(parts["share"][parts["share"] != 0]))
    ends = pd.Series([bar.get_x() + bar.get_width() for bar in axes.patches])
    assert ends.abs().max() <= 1 + 1e-12


def test_no_choice_left_is_said():
    choice = choice_of()
    ranked = [replace(r, disqualified="wrong direction") for r in rank(choice, Bench())]
    assert best_cases(choice, ranked) == {}
    assert "No set-up does what is wanted" in ranking_html(choice, ranked)


# The file.


def written(tmp_path, **changes):
    content = {
        "choice": "example",
        "title": "An example",
        "base": {"missing": [36], "units": UNITS, "wire": WIRE},
        "wishes": WISHES,
    }
    path = tmp_path / "example.yaml"
    path.write_text(yaml.safe_dump(content | changes), encoding="utf-8")
    return path


def test_the_files_of_the_project_are_read():
    files = sorted((Path(__file__).parents[2] / "configs" / "choices").glob("*.yaml"))
    assert files
    for path in files:
        assert candidates(load_choice(path))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"wishes": {"molar": {"distal_crown_tipp": "wanted"}}}, "did you mean distal_crown_tip?"),
        ({"wishes": {"molar": {"intrusion": "wanted", "extrusion": "unwanted"}}}, "drop one"),
        ({"wishes": {"molar": {"intrusion": "wanted", "extrusion": "wanted"}}}, "drop one"),
        ({"wishes": {"molar": {"intrusion": "wished"}}}, "known: wanted, unwanted"),
        ({"wishes": {"molar": {"intrusion": {"wish": "unwanted", "amount": 2}}}}, "belongs to"),
        ({"wishes": {"molar": {"otherwise": "wanted"}}}, "must be named"),
        ({"wishes": {"molar": {"extrusion": "unwanted"}}}, "nothing is wanted"),
        ({"wishes": {"molar": {"intrusion": {"wish": "wanted", "amount": 0}}}}, "more than 0"),
        ({"wishes": {"molars": {"intrusion": "wanted"}}}, "did you mean molar?"),
        ({"base": {"wire": WIRE}}, "base.units: missing"),
        ({"base": {"units": UNITS, "wire": WIRE, "case": "x"}}, "base.case = 'x': is chosen here"),
        ({"base": {"units": UNITS, "two_point": 3}}, "base.two_point = 3: must hold keys"),
        (
            {"base": {"units": UNITS, "wire": {"activation": {"force_gf": 30}}}},
            "base.wire.activation.force_gf = 30: is chosen here",
        ),
        ({"choice": "other"}, "write example or rename"),
        ({"sides": 1}, "sides = 1: unknown key"),
    ],
)
def test_faults_of_a_file_are_named(tmp_path, changes, message):
    with pytest.raises(ValueError, match=r"example\.yaml: ") as caught:
        load_choice(written(tmp_path, **changes))
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("base", "rest", "message"),
    [
        ({"wire": WIRE | {"alloy": "beta_titan"}}, {}, "base.wire.alloy = 'beta_titan': not"),
        ({"units": UNITS | {"third": {"teeth": [43]}}}, {}, "base.units: holds 3; name two"),
        ({"units": {"molar": {}, "segment": {}}}, {}, "base.units: each unit needs its teeth"),
        ({"units": {"molar": {"teeth": [math.inf]}, "segment": {}}}, {}, "base.units: each"),
        ({}, {"tubes": [36]}, "tubes: tooth 36 is in no unit; use some of"),
        ({"limits": {"yield_ratio": 90}}, {}, "base.limits.yield_ratio = 90: out of range"),
    ],
)
def test_faults_of_what_the_set_ups_share_are_named_as_all_others(tmp_path, base, rest, message):
    """File as the user named it, line, key, value, remedy; beside the faults of the wishes."""
    common = {"missing": [36], "units": UNITS, "wire": WIRE} | base
    path = written(tmp_path, base=common, **rest)
    with pytest.raises(CaseError) as caught:
        load_choice(path)
    assert f"{path}: line {line_of(path, message)}: {message}" in str(caught.value)


def line_of(path, message):
    """Line of a key that is written once in a file."""
    name = message.split(":")[0].split(" ")[0].split(".")[-1]
    (line,) = (n for n, text in enumerate(path.read_text().splitlines(), 1) if f"{name}:" in text)
    return line


def test_faults_of_wishes_and_of_what_the_set_ups_share_are_told_at_once(tmp_path):
    base = {"missing": [36], "units": UNITS, "wire": WIRE | {"alloy": "beta_titan"}}
    wishes = WISHES | {"molar": {"intrusion": "wished"}}
    with pytest.raises(CaseError) as caught:
        load_choice(written(tmp_path, base=base, wishes=wishes))
    assert {problem.key for problem in caught.value.problems} == {
        "base.wire.alloy",
        "wishes.molar.intrusion.wish",
    }


def test_a_choice_without_a_file_is_named_by_its_place():
    with pytest.raises(CaseError, match=r"^configs/choices/example\.yaml: tubes: tooth 36"):
        base_case(choice_of(tubes=[36]))
