from datetime import UTC, datetime

import pytest

from api.screens.planning.demand_chart import FRAME, demand_chart
from api.screens.planning.evidence import DemandRow, LifeRow
from api.screens.planning.lead_time_chart import lead_time_chart
from api.screens.planning.life_chart import life_chart

FROM, UNTIL = datetime(2020, 5, 1, tzinfo=UTC), datetime(2024, 2, 1, tzinfo=UTC)


def asked(year, pieces=1, *, month=6, planned=False, result="filled"):
    at = datetime(year, month, 10, tzinfo=UTC)
    return DemandRow(at, "41-0105", "41-0105", "P", pieces, result, "WO-1", "request", planned)


def lived(hours, counts_as="worn_out"):
    return LifeRow("P", "41-0105", FROM, None, hours, "meter", "", "", counts_as)


def test_every_year_of_the_record_has_its_place_also_an_empty_one():
    bars = demand_chart([asked(2021), asked(2023, 2)], FROM, UNTIL)
    assert [(period.name, period.total) for period in bars.periods] == [
        ("2020", 0),
        ("2021", 1),
        ("2022", 0),
        ("2023", 2),
        ("2024", 0),
    ]


def test_a_short_record_is_shown_by_month():
    bars = demand_chart([asked(2023, month=11)], datetime(2023, 10, 2, tzinfo=UTC), UNTIL)
    assert [period.name for period in bars.periods] == ["2023-10", "2023-11", "2023-12", "2024-01", "2024-02"]


def test_each_piece_is_a_block_of_its_kind_and_what_was_not_met_is_crossed():
    bars = demand_chart(
        [asked(2021, 2), asked(2021, result="not_filled"), asked(2021, planned=True)], FROM, UNTIL
    )
    blocks = bars.periods[1].blocks
    assert [(block.kind, bool(block.cross)) for block in blocks] == [
        ("unplanned", False),
        ("unplanned", False),
        ("unplanned", True),
        ("planned", False),
    ]
    assert (bars.periods[1].unplanned, bars.periods[1].planned, bars.periods[1].unmet) == (3, 1, 1)


@pytest.mark.parametrize("pieces", [1, 14, 15, 400])
def test_bars_stay_in_the_frame_however_many_were_requested(pieces):
    bars = demand_chart([asked(2021, pieces), asked(2022, planned=True)], FROM, UNTIL)
    tops = [block.y for period in bars.periods for block in period.blocks]
    assert FRAME.top <= min(tops) <= max(tops) < FRAME.base


def test_no_request_is_not_drawn():
    assert demand_chart([], FROM, UNTIL) is None


def test_the_curve_is_that_of_kaplan_and_meier():
    plot = life_chart(
        [lived(100), lived(200), lived(200, "censored"), lived(300, "running")], None, is_used=False
    )
    assert [(step.hours, step.at_risk, step.ends, step.share) for step in plot.steps] == [
        (100, 4, 1, 0.75),
        (200, 3, 1, 0.5),
    ]
    assert plot.half_hours == 200
    assert plot.ages.count("M") == 1


def test_a_law_is_drawn_and_says_when_it_is_not_used():
    fit = {"shape": 2.0, "scale_hours": 250.0, "shape_interval": [1.2, 3.1]}
    lives = [lived(100), lived(300)]
    used = life_chart(lives, fit, is_used=True)
    assert used.law.startswith("M")
    assert "shape 2 (1.2 to 3.1)" in used.law_words
    assert "fitted, but not used" in life_chart(lives, fit, is_used=False).law_words


def test_without_wear_there_is_no_curve():
    assert life_chart([lived(300, "running"), lived(50, "sudden")], None, is_used=False) is None


def test_the_law_of_a_lead_time_shows_what_the_reorder_point_covers():
    law = lead_time_chart([0.7, 0.2, 0.08, 0.02], 1)
    assert law.enough == pytest.approx(0.9)
    assert [bar.is_met for bar in law.bars] == [True, True, False, False]
    assert law.bars[1].x < law.line_x < law.bars[2].x


def test_many_pieces_share_a_bar_and_the_reorder_point_stays_in_the_frame():
    chart = lead_time_chart([0.9, *[0.001] * 100], 189)
    assert len(chart.bars) <= 24
    assert sum(bar.chance for bar in chart.bars) == pytest.approx(1.0)
    assert (chart.bars[0].pieces, chart.bars[1].pieces) == ("0–7", "8–15")
    assert chart.bars[-1].x > chart.line_x - chart.bars[-1].width
    assert 2 < sum(bool(bar.label) for bar in chart.bars) <= 12


@pytest.mark.parametrize(("law", "reorder_point"), [([], 1), ([0.9, 0.1], -1)])
def test_no_law_or_no_stock_draws_nothing(law, reorder_point):
    assert lead_time_chart(law, reorder_point) is None
