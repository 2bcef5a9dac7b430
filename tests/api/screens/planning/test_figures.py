"""The figures of a time on pages: the sums of the API, open to their rows, and the acts on what lies there for nothing."""

import re
from datetime import timedelta

import pytest
from django.contrib.auth.models import Group
from django.test import Client
from django.utils import timezone

from api.wording.manager_figures import FIGURE_TITLES
from inventory.models import Item
from tests.factories import (
    ItemFactory,
    StockPolicyFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.jobs import get_calculated

pytestmark = pytest.mark.django_db


def client_of(role: str) -> Client:
    client, user = Client(), UserFactory(username=role)
    user.groups.add(Group.objects.get(name=role))
    client.force_login(user)
    return client


def plain(client: Client, address: str) -> str:
    answer = get_calculated(client, address)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


@pytest.fixture
def dear() -> Item:
    item: Item = ItemFactory(stock_number="SPR-1", unit_cost="120.00")
    for code, pieces in (("EAST", 7), ("WEST", 5)):
        room = StoreroomFactory(code=code)
        stock(item, room, pieces)
        StockPolicyFactory(item=item, storeroom=room, reorder_point=1, order_up_to=2)
    return item


def test_a_figure_has_the_sums_of_the_api_and_opens_to_its_rows(
    dear: Item, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = client_of("manager")
    named = {one["name"] for one in client.get("/api/v1/figures/").json()["results"]}
    assert named <= set(FIGURE_TITLES)
    assert all(name in named or name.startswith("filled_") for name in FIGURE_TITLES)
    told = client.get("/api/v1/figures/excess/").json()
    assert [one["value"] for one in told["values"]] == ["960.00"]
    assert "Above maximum" in (text := plain(client, "/planning/figures/"))
    assert "2 of 2 (100 %) 960 EUR" in text
    rows = plain(client, "/planning/figures/excess/")
    assert "EAST: 1, 600 EUR" in rows
    assert "WEST: 1, 360 EUR" in rows
    assert "The maximum is 2." in rows
    west = plain(client, "/planning/figures/excess/?storeroom=WEST")
    assert "1 of 1 (100 %) , 360 EUR" in west or "1 of 1 (100 %), 360 EUR" in west
    page = client.get("/planning/figures/excess/").content.decode()
    assert 'href="/items/SPR-1/"' in page
    assert re.search(r"/counter/transfer/\?item=SPR-1&amp;storeroom=EAST&amp;quantity=5", page)
    assert "/counter/scrap/" not in client_of("viewer").get("/planning/figures/excess/").content.decode()
    lines = b"".join(client.get("/planning/figures/excess.csv").streaming_content).decode().splitlines()  # type: ignore[attr-defined]
    assert lines[1].startswith("SPR-1,EAST,,,,5,600.00,EUR,")
    assert len(lines) == 3
    monkeypatch.setattr("api.screens.planning.figures.MOST_ROWS", 1)
    assert "the file has all" in plain(client, "/planning/figures/excess/")
    whole = client.get("/planning/figures/excess.csv").streaming_content  # type: ignore[attr-defined]
    assert b"".join(whole).decode().splitlines() == lines


def test_what_changed_is_told_beside_the_time_before(dear: Item) -> None:
    room = StoreroomFactory()
    for days, number in ((5, "A"), (40, "B"), (45, "C")):
        at = timezone.now() - timedelta(days=days)
        SupplyOrderFactory(item=dear, storeroom=room, ordered_at=at, emergency=True, external_id=number)
    since = (timezone.now() - timedelta(days=30)).date()
    text = plain(client_of("manager"), f"/planning/figures/?since={since}")
    assert re.search(r"Emergency orders .{0,120} 1 of 1 \(100 %\) 2 of 2 \(100 %\)", text)


def test_a_wrong_day_or_storeroom_is_refused_at_its_field() -> None:
    answer = client_of("manager").get("/planning/figures/?since=soon&storeroom=NOWHERE")
    assert answer.status_code == 400
    assert 'href="#since">A date is expected' in answer.content.decode()
    assert client_of("viewer").get("/planning/figures/none/").status_code == 404


def test_the_value_of_stock_is_followed_from_a_day_to_today(dear: Item) -> None:
    client = client_of("manager")
    address = "/planning/changes/?since=2000-01-01"
    waiting = client.get(address).content.decode()
    assert "Being calculated since" in waiting
    assert "Nothing was decided in this time." in waiting
    text = plain(client, address)
    assert re.search(r"0 EUR Received \+1,440 EUR Today 1,440 EUR", text)
    assert re.search(r"Above maximum 0 EUR 960 EUR \+960 EUR", text)
    assert "Nothing was decided in this time." in text
    faults = client.get("/planning/changes/?since=9999-01-01").content.decode()
    assert 'href="#since">Enter a day up to today' in faults
    rows = plain(client, "/planning/figures/stock_value/")
    assert "One costs 120 EUR." in rows
    assert "EAST: 1, 840 EUR" in rows
