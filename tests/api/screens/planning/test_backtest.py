from zoneinfo import ZoneInfo

import pytest

from api.models import BackgroundJob
from api.screens.planning.backtest import promises_of
from inventory.stocking.backtest import Promise
from tests.factories import ItemFactory, RequestFactory, StoreroomFactory
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db
ADDRESS = "/planning/backtest/"


@pytest.fixture
def page(client, django_user_model):
    client.force_login(django_user_model.objects.create_user("ines"))
    return lambda query="": get_calculated(client, ADDRESS + query).content.decode()


def years_of_requests(room):
    item = ItemFactory()
    for year in range(2020, 2026):
        for month in (1, 2, 5, 7, 10):
            RequestFactory(item=item, storeroom=room, at=f"{year}-{month:02d}-03T06:00:00Z")


def test_it_names_every_rule_under_each_promise(page):
    years_of_requests(StoreroomFactory(code="MAIN"))
    shown = page()
    for promised in ("90", "95", "99"):
        assert f"Target: {promised}" in shown
    assert "least left over" in shown


def test_the_first_screen_is_plain_and_says_what_follows_from_a_missed_promise(page):
    years_of_requests(StoreroomFactory(code="MAIN"))
    first = page().partition("<main")[2].partition("</nav>")[2].split("<details class=")[0]
    assert "What was promised, and what would have been kept" in first
    assert "95 of 100" in first
    for jargon in ("CRPS", "PIT", "pooled", "binomial", "quantile", "score"):
        assert jargon not in first


def kept(promised, achieved, verdict, leftover):
    return Promise(
        *("recommended", promised, achieved, achieved - 0.02, achieved + 0.02, verdict),
        is_best=False,
        fill_rate=1.0,
        mean_leftover=leftover,
        mean_spend=None,
        service_by_origin=(),
    )


def test_the_target_that_would_have_kept_a_missed_promise_is_named():
    missed, higher = promises_of([kept(0.99, 0.97, "missed", 1.5), kept(0.95, 0.92, "missed", 1.25)])
    assert (missed.is_missed, missed.instead.promised, missed.more_left_over) == (True, 0.99, 0.25)
    assert (higher.is_missed, higher.instead) == (True, None)


def test_its_moment_is_told_in_the_time_of_the_storerooms(page):
    years_of_requests(StoreroomFactory(code="MAIN", timezone="Asia/Kathmandu"))
    shown = page()
    at = BackgroundJob.objects.get().started_at.astimezone(ZoneInfo("Asia/Kathmandu"))
    assert f"{at:%H:%M}" in shown


def test_a_record_too_short_says_what_is_missing(page):
    RequestFactory(storeroom=StoreroomFactory(code="MAIN"))
    assert "The record is too short for a back-test." in page()


def test_an_unknown_storeroom_is_said_and_shows_all(page):
    assert "There is no storeroom with this code" in page("?storeroom=NOWHERE")


def test_it_asks_strangers_to_log_in(client):
    assert client.get(ADDRESS).status_code == 302
