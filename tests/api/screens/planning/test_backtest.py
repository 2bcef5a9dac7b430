import pytest

from tests.factories import ItemFactory, RequestFactory, StoreroomFactory
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db
ADDRESS = "/planning/backtest/"


@pytest.fixture
def page(client, django_user_model):
    client.force_login(django_user_model.objects.create_user("ines"))
    return lambda query="": get_calculated(client, ADDRESS + query).content.decode()


def years_of_asking(room):
    item = ItemFactory()
    for year in range(2020, 2026):
        for month in (1, 2, 5, 7, 10):
            RequestFactory(item=item, storeroom=room, at=f"{year}-{month:02d}-03T06:00:00Z")


def test_it_names_every_rule_under_each_promise(page):
    years_of_asking(StoreroomFactory(code="MAIN"))
    shown = page()
    for promised in ("90", "95", "99"):
        assert f"Promised: {promised}" in shown
    assert "left least over" in shown


def test_a_record_too_short_says_what_is_missing(page):
    RequestFactory(storeroom=StoreroomFactory(code="MAIN"))
    assert "There is not enough of a record to replay yet." in page()


def test_an_unknown_storeroom_is_said_and_shows_all(page):
    assert "No storeroom of that code is known here" in page("?storeroom=NOWHERE")


def test_it_asks_strangers_to_log_in(client):
    assert client.get(ADDRESS).status_code == 302
