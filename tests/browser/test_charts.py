"""Charts as they are seen on a phone: every text measured where it stands, in each language."""

from datetime import timedelta
from decimal import Decimal

import pytest

from drives.service_record import history
from tests import factories as make
from tests.browser.conftest import DESK, PHONE
from tests.browser.planning_plant import TAG, calculated_plant

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MEASURED = """() => [...document.querySelectorAll('svg.chart')].map(svg => {
  const box = svg.viewBox.baseVal, shown = svg.getBoundingClientRect();
  return {
    width: box.width, height: box.height, left: shown.left, right: shown.right, wide: innerWidth,
    texts: [...svg.querySelectorAll('text')].map(text => {
      const b = text.getBBox();
      return {text: text.textContent, left: b.x, right: b.x + b.width, top: b.y, bottom: b.y + b.height,
        px: parseFloat(getComputedStyle(text).fontSize) * shown.width / box.width};
    }),
    data: [...svg.querySelectorAll('path')].map(path => path.getBBox()).map(b => [b.x, b.y, b.x + b.width, b.y + b.height]),
  };
})"""
LEAST_PX = 11.5
TOUCHING = 1.5
"""Boxes of a text hold the room above its capitals and below its letters: they may touch by so many units."""


def faults(chart):
    texts = chart["texts"]
    for one in texts:
        if (
            one["left"] < 0
            or one["right"] > chart["width"]
            or one["top"] < -1
            or one["bottom"] > chart["height"]
        ):
            yield "clipped", one["text"]
        if one["px"] < LEAST_PX:
            yield "too small", one["text"]
    for place, one in enumerate(texts):
        for other in texts[place + 1 :]:
            across = min(one["right"], other["right"]) - max(one["left"], other["left"])
            down = min(one["bottom"], other["bottom"]) - max(one["top"], other["top"])
            if across > 0 and down > TOUCHING:
                yield "overlap", one["text"], other["text"]
    for left, top, right, bottom in chart["data"]:
        if left < -1 or top < 0 or right > chart["width"] + 1 or bottom > chart["height"]:
            yield "outside", (left, top, right, bottom)
    if chart["left"] < 0 or chart["right"] > chart["wide"]:
        yield "wider than the screen", chart["right"]


def test_no_text_of_a_chart_is_clipped_or_runs_into_another(open_page):
    plant = calculated_plant()
    for days, percent in ((100, "0.40"), (200, "0.75"), (300, "1.10"), (400, "1.42")):
        at = make.MORNING + timedelta(days=days)
        history.record_inspection(plant.plant.driver, at=at, elongation_percent=Decimal(percent))
    for size, language in ((PHONE, "en"), (PHONE, "de"), (DESK, "en")):
        page = open_page("/login/", session=plant.session, size=size)
        page.context.add_cookies([{"name": "language", "value": language, "url": page.url}])
        pages = (
            f"/planning/{plant.to_decide.pk}/",
            "/planning/budget/?budget=1000",
            "/planning/backtest/",
            "/planning/exposure/",
            f"/positions/{TAG}/",
            "/drives/STEEP-EL1-D1/",
        )
        charts = [(path, chart) for path in pages for chart in charts_of(page, path)]
        assert [(path, *fault) for path, chart in charts for fault in faults(chart)] == []
        assert len(charts) >= 5


def charts_of(page, path):
    page.goto(path)
    return page.evaluate(MEASURED)


def test_the_data_of_a_chart_are_a_table_and_a_file(open_page):
    plant = calculated_plant()
    page = open_page(f"/planning/{plant.to_decide.pk}/", session=plant.session)
    page.get_by_text("Show as a table").first.click()
    assert page.get_by_role("row", name="2019 1 0 1").is_visible()
    with page.expect_download() as download:
        page.get_by_role("link", name="These data as CSV").first.click()
    lines = download.value.path().read_text().splitlines()
    assert lines[0] == "period,unplanned,planned,not_filled"
    assert "2019,1,0,1" in lines
