"""The curve's figure in words and numbers: range, rate and first yield as the record has them."""

from dataclasses import replace

import pytest

from fem.activation_branches import CurvePoint, History, RubbingCurves
from fem.force_activation import ForceActivation, ForceBand
from workflow.figures_force_activation import curve_figure, curve_texts, range_text, yield_text
from workflow.force_activation import curve_record, curve_table

CASE = {"wire": {"alloy": {"yield_strength_MPa": 800.0, "superelastic": None}}}


def point(activation_mm: float) -> CurvePoint:
    """A spring of 0.1 N/mm, its couple at 20 mm, 100 MPa a mm."""
    force = 0.1 * activation_mm
    return CurvePoint(activation_mm, force, 20 * force, 100 * activation_mm)


def curve() -> ForceActivation:
    return ForceActivation(
        points=tuple(point(a) for a in (0.0, 2.0, 4.0, 6.0, 9.0)),
        working=point(6.0),
        first_yield=point(8.0),
        band=ForceBand(0.25, point(4.5), point(7.5)),
        rate_N_per_mm=0.1,
        linear_rate_N_per_mm=0.11,
        linear_couple_rate_N=2.2,
    )


def test_range_rate_and_yield_are_said_in_the_units_of_the_trade() -> None:
    """1 gf = 9.80665e-3 N by definition: 0.1 N/mm is 10.2 gf/mm."""
    _, caption = curve_texts(curve_record(CASE, curve()))
    assert "±25 %" in caption
    assert "over 3.00 mm of activation, from 4.50 to 7.50 mm" in caption
    assert "10.2 gf/mm" in caption
    assert "The wire first yields at 8.00 mm" in caption


def test_yield_within_the_range_is_said() -> None:
    """The curve is elastic, so its range must not be read as that of a wire that has yielded."""
    early = replace(curve(), first_yield=point(7.0))
    assert "within that range" in yield_text(curve_record(CASE, early))
    assert "within" not in yield_text(curve_record(CASE, curve()))


def test_what_lies_beyond_the_curve_is_not_said_to_be_known() -> None:
    open_end = replace(curve(), first_yield=None, band=ForceBand(0.25, point(4.5), None))
    record = curve_record(CASE, open_end)
    assert range_text(record) == "from 4.50 mm of activation to at least 9.00 mm"
    assert yield_text(record) == "the wire does not yield up to 9.00 mm"
    assert len(curve_figure(curve_table(open_end), record).axes) == 2


def test_table_holds_every_point_and_the_line_of_linear_theory() -> None:
    table = curve_table(curve()).set_index("series")
    assert table.loc["rod", "force_N"].tolist() == pytest.approx([0.0, 0.2, 0.4, 0.6, 0.9])
    assert table.loc["first yield", "activation_mm"] == 8.0
    assert table.loc["end of the band", "activation_mm"].tolist() == [4.5, 7.5]
    line = table.loc["linear beam theory"]
    rate = curve().linear_rate_N_per_mm
    assert line["force_N"].tolist() == pytest.approx((rate * line["activation_mm"]).tolist())


def test_a_wire_past_its_limit_has_two_branches_and_says_where_its_force_ends() -> None:
    back = (point(6.0), point(4.0), CurvePoint(1.2, 0.0, 0.0, 0.0))
    past = replace(
        curve(), first_yield=point(5.0), history=History(tuple(map(point, (0.0, 6.0, 9.0))), back)
    )
    record = curve_record(CASE, past)
    text = yield_text(record)
    assert "first yields at 5.00 mm" in text
    assert "no force left at 1.20 mm" in text
    table = curve_table(past)
    assert (table["series"] == "letting back").sum() == 3
    labels = curve_figure(table, record).axes[0].get_legend_handles_labels()[1]
    assert {"activating", "letting back", "if it stayed elastic"} <= set(labels)
    plateau = curve_record(
        {"wire": {"alloy": {"yield_strength_MPa": 400.0, "superelastic": {}}}}, past
    )
    assert "plateau begins at 5.00 mm" in yield_text(plateau)


def test_friction_and_play_are_marked() -> None:
    up = tuple(map(point, (0.0, 6.0, 9.0)))
    rubbing = RubbingCurves(up, up, point(3.0), False)
    marked = replace(curve(), rubbing=rubbing, closings=(point(0.7), point(1.1)))
    table = curve_table(marked)
    labels = curve_figure(table, curve_record(CASE, marked)).axes[0].get_legend_handles_labels()[1]
    assert "wall of the tube reached" in labels
    assert "first slip" in labels
    assert "activating, with friction" in labels
