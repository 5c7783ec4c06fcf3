"""The kept figures of the campaigns: what is written of them, and that the page is theirs."""

import pytest

from tests.campaigns.summary import CAMPAIGNS, KEPT, page, take
from workflow.records import read_json

SLOPE = {"first": 400.0, "last": 401.0, "per_hour": 0.5, "standard_error": 0.2}
FOUND = {
    "fuzz": {
        "files": 5,
        "seed": 1,
        "by_kind": {"case": {"refused": 3, "accepted": 1}, "search": {"refused": 1}},
        "validation_s": {"slowest": 0.123},
        "solutions": {"solved": 1},
        "fault_count": 2,
    },
    "kills": {
        "kills": 7,
        "runs": 3,
        "failed": 1,
        "seed": 4,
        "records": [{"kind": "default", "said": "long", "passed": False}],
    },
    "corruption": {
        "faults": 1,
        "failed": 0,
        "records": [{"fault": "full disk", "named": True, "recovered": True, "said": ["x"]}],
    },
    "random_cases": {
        "cases": 200,
        "teeth": 12,
        "solved": 197,
        "failed_with_a_named_reason": 3,
        "failure_rate": 0.015,
        "findings": 0,
        "largest_imbalance": 2e-13,
        "median_processor_s": 2.5,
        "longest_processor_s": 31.0,
        "reasons": {"engage_case: too | far": 3},
    },
    "soak": {
        "rounds": 9,
        "hours": 0.5,
        "rss_MB": SLOPE,
        "left": {"last": 0},
        "verdict": "steady",
    },
}


@pytest.mark.parametrize("name", CAMPAIGNS)
def test_a_campaign_is_kept_and_told_by_its_own_figures(tmp_path, name):
    place = tmp_path / "campaigns.json"
    take(name, FOUND[name], "abc1234", place)
    made = read_json(place)[name]["made"]
    assert made["commit"] == "abc1234"
    (row,) = [r for r in place.with_suffix(".md").read_text("utf-8").splitlines() if name in r]
    expected = {
        "fuzz": ["5 changed files of 2 kinds", "1 accepted, 4 refused", "**2 faults**"],
        "kills": ["7 kills in 3 runs", "**1 runs**"],
        "corruption": ["1 kinds of damage: full disk", "**0** not named"],
        "random_cases": ["200 random cases", "(1.5 % in all)", "2e-13", "too \\| far (3)"],
        "soak": ["9 rounds", "400 to 401 MB (+0.5 ± 0.2 MB/h)", "**steady**"],
    }
    for words in (*expected[name], "abc1234", made["on"]):
        assert words in row
    assert row.replace("\\|", "").count("|") == 6


def test_another_campaign_leaves_the_first_and_long_texts_stay_away(tmp_path):
    place = tmp_path / "campaigns.json"
    for name in ("soak", "corruption", "kills"):
        take(name, FOUND[name], "abc1234", place)
    kept = read_json(place)
    assert set(kept) == {"soak", "corruption", "kills"}
    assert kept["kills"]["found"]["records"] == [{"kind": "default", "passed": False}]
    assert kept["soak"]["found"]["hours"] == 0.5


def test_the_kept_page_is_that_of_the_kept_figures():
    assert KEPT.with_suffix(".md").read_text("utf-8") == page(read_json(KEPT))
