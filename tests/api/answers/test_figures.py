from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.models import WorkOrder
from tests import factories as make
from tests.api.records import errors

pytestmark = pytest.mark.django_db
PATH = "/api/v1/figures/"


@pytest.fixture
def unmet(db):
    return make.RequestFactory(
        at=timezone.now() - timedelta(days=3), work_order="WO-7", result="not_filled", item=make.ItemFactory()
    )


def test_every_figure_has_its_meaning_and_opens_to_its_rows(as_viewer, unmet):
    answer = as_viewer.get(PATH).json()
    figures = {one["name"]: one for one in answer["results"]}
    assert (figures["stockouts"]["count"], figures["stockouts"]["share"]) == (1, 1.0)
    assert {
        "excess",
        "dead_stock",
        "insurance",
        "late_orders",
        "emergency_buys",
        "wear_due",
        "jobs_not_ready",
    } <= figures.keys()
    for name, figure in figures.items():
        opened = as_viewer.get(f"{PATH}{name}/").json()
        assert opened["meaning"]["explanation"].endswith(".")
        assert {member: opened[member] for member in figure} == figure
    assert "within 90 days" in figures["wear_due"]["meaning"]["explanation"]
    rows = as_viewer.get(f"{PATH}stockouts/").json()["rows"]
    assert [(row["work_order"], row["item"]) for row in rows] == [("WO-7", unmet.item.stock_number)]
    assert rows[0]["reasons"][0]["explanation"] == "Its request was not filled; the job has 1 line."


@pytest.mark.parametrize(
    ("query", "name"),
    [
        ("since=2024-02-30", "since"),
        ("until=9999-01-01", "until"),
        ("since=2024-03-02&until=2024-03-01", "since"),
        ("storeroom=NOWHERE", "storeroom"),
        ("days_ahead=0", "days_ahead"),
        ("room=MAIN", "room"),
    ],
)
def test_a_bad_parameter_is_named(as_viewer, query, name):
    response = as_viewer.get(f"{PATH}?{query}")
    assert response.status_code == 400
    assert f"/{name}" in errors(response)


def needing(number, place, *items, days=5):
    WorkOrder.objects.create(
        source="plan",
        external_id=number,
        source_updated_at=make.MORNING,
        position=place,
        needed_by=timezone.now().date() + timedelta(days=days),
        parts_needed=[{"item": item, "quantity": 1} for item in items],
    )


def test_jobs_without_their_parts_are_counted(as_viewer):
    place, item = make.PositionFactory(), make.ItemFactory(stock_number="SPR-1")
    make.stock(item, make.StoreroomFactory(), 1)
    needing("WO-1", place, "SPR-1", days=9)
    needing("WO-2", place, "SPR-1", days=3)
    needing("WO-3", place, "NOWHERE", "SPR-1", days=6)
    needing("WO-4", place)
    found = as_viewer.get(f"{PATH}jobs_not_ready/").json()
    assert (found["count"], found["out_of"]) == (2, 3)
    rows = [(row["work_order"], row["reasons"][0]["values"]["items"]) for row in found["rows"]]
    assert rows == [("WO-3", ["NOWHERE", "SPR-1"]), ("WO-1", ["SPR-1"])]
    assert found["rows"][1]["reasons"][0]["explanation"] == "Missing: SPR-1."
    north = make.StoreroomFactory(code="NORTH")
    assert as_viewer.get(f"{PATH}jobs_not_ready/?storeroom={north.code}").json()["count"] == 0


def test_an_unknown_figure_is_not_found(as_viewer, as_stranger):
    assert as_viewer.get(f"{PATH}happiness/").status_code == 404
    assert as_stranger.get(PATH).status_code == 401


def queries_of(client):
    with CaptureQueriesContext(connection) as seen:
        assert client.get(PATH).status_code == 200
    return len(seen)


def rows_of_every_figure(at, numbers):
    for number in numbers:
        item, room = make.ItemFactory(holding_reason="insurance"), make.StoreroomFactory()
        make.stock(item, room, 5)
        make.StockPolicyFactory(item=item, storeroom=room, reorder_point=0, order_up_to=1)
        make.SupplyOrderFactory(item=item, storeroom=room, promised_on="2024-03-05", emergency=True)
        needing(f"WO-{number}", None, item.stock_number, f"NOWHERE-{number}")
        make.RequestFactory(at=at, item=item, position=make.PositionFactory(), work_order=f"WO-{number}")


def test_it_costs_the_same_however_many_rows(as_viewer, unmet):
    rows_of_every_figure(unmet.at, range(1))
    before = queries_of(as_viewer)
    rows_of_every_figure(unmet.at, range(1, 5))
    assert queries_of(as_viewer) == before
