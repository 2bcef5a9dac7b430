import re
from datetime import UTC, datetime

import pytest

from api.screens.planning.demand_chart import demand_chart
from api.screens.planning.evidence import DemandRow, LifeRow
from api.screens.planning.lead_time_chart import bins_of, lead_time_chart
from api.screens.planning.life_chart import law_words, life_chart

FROM, UNTIL = datetime(2020, 5, 1, tzinfo=UTC), datetime(2024, 2, 1, tzinfo=UTC)


def asked(year, pieces=1, *, month=6, planned=False, result="filled"):
    at = datetime(year, month, 10, tzinfo=UTC)
    return DemandRow(at, "41-0105", "41-0105", "P", pieces, result, "WO-1", "request", planned)


def lived(hours, counts_as="worn_out"):
    return LifeRow("P", "41-0105", FROM, None, hours, "meter", "", "", counts_as)


def demand(rows, first=FROM):
    return demand_chart(rows, first, UNTIL, "pieces")


def paths(chart, kind):
    return dict(chart.picture.paths)[kind]


def deciding_words(chart):
    return [text.text for text in chart.picture.words if text.kind == "strong"]


def test_every_year_of_the_record_has_its_place_also_an_empty_one():
    rows = demand([asked(2021), asked(2023, 2)]).rows
    assert [(name, unplanned) for name, unplanned, _planned, _unmet in rows] == [
        ("2020", 0),
        ("2021", 1),
        ("2022", 0),
        ("2023", 2),
        ("2024", 0),
    ]


def test_a_short_record_is_shown_by_month():
    rows = demand([asked(2023, month=11)], datetime(2023, 10, 2, tzinfo=UTC)).rows
    assert [row[0] for row in rows] == ["2023-10", "2023-11", "2023-12", "2024-01", "2024-02"]


def test_each_piece_is_a_block_of_its_kind_and_what_was_not_met_is_crossed():
    chart = demand([asked(2021, 2), asked(2021, result="not_filled"), asked(2021, planned=True)])
    assert paths(chart, "c-unplanned").count("M") == 3
    assert paths(chart, "c-planned").count("M") == 1
    assert paths(chart, "c-cross c-on-unplanned").count("M") == 1
    assert chart.rows[1] == ("2021", 3, 1, 1)
    assert deciding_words(chart) == ["4 pieces from 2020 to 2024"]


def test_no_request_is_not_drawn():
    assert demand([]) is None


def test_the_curve_is_that_of_kaplan_and_meier():
    plot = life_chart(
        [lived(100), lived(200), lived(200, "censored"), lived(300, "running")], None, is_used=False
    )
    assert [row[:4] for row in plot.rows] == [(100, 4, 1, 0.75), (200, 3, 1, 0.5)]
    assert deciding_words(plot) == ["half last longer than 200 h"]
    assert paths(plot, "c-age").count("M") == 1
    assert paths(plot, "c-band").startswith("M")


def test_a_law_is_drawn_and_says_when_it_is_not_used():
    fit = {"shape": 2.0, "scale_hours": 250.0, "shape_interval": [1.2, 3.1]}
    chart = life_chart([lived(100), lived(300)], fit, is_used=True)
    assert paths(chart, "c-law").startswith("M")
    assert "Weibull distribution: shape 2 (1.2 to 3.1), scale 250 h" in [sign.words for sign in chart.signs]
    assert law_words(fit, is_used=False).endswith("fitted, but not used")


def test_without_wear_there_is_no_curve():
    assert life_chart([lived(300, "running"), lived(50, "sudden")], None, is_used=False) is None


def test_the_law_of_a_lead_time_shows_what_the_reorder_point_covers():
    chart = lead_time_chart([0.7, 0.2, 0.08, 0.02], 1, "pieces")
    assert deciding_words(chart) == ["order at 1: enough in 90 %"]
    assert paths(chart, "c-unplanned").count("M") == paths(chart, "c-planned").count("M") == 2
    (line,) = re.findall(r"M([0-9.]+)", paths(chart, "c-limit"))
    assert chart.picture.x(1) < float(line) < chart.picture.x(2)


def test_the_axis_of_a_chain_is_in_the_links_that_the_answer_is_in():
    chart = lead_time_chart([0.8, 0.15, 0.05], 216, "links", 108)
    assert [row[0] for row in chart.rows] == [0, 108, 216, 324]
    assert deciding_words(chart) == ["order at 216: enough in 100 %"]


def test_a_bar_of_several_pieces_ends_with_the_reorder_point():
    bins = bins_of([0.9, *[0.001] * 100], 189)
    assert [(one.first, one.last) for one in bins][:3] == [(0, 5), (6, 13), (14, 21)]
    assert 189 in [one.last for one in bins]


@pytest.mark.parametrize(("law", "reorder_point"), [([], 1), ([0.9, 0.1], -1)])
def test_no_law_or_no_stock_draws_nothing(law, reorder_point):
    assert lead_time_chart(law, reorder_point, "pieces") is None
