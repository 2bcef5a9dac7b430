from itertools import permutations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import SupplyOrder
from tests.api.exchange.files import load, load_up_to, sentences

pytestmark = pytest.mark.django_db
HEADER = (
    "source,external_id,item,storeroom,quantity,ordered_at,received_quantity,received_at,status,updated_at\n"
)
OPEN = "purchasing,PO-9,004711,MAIN,2,2024-02-02T08:00:00+01:00,,,open,\n"
PART = "purchasing,PO-9,004711,MAIN,2,2024-02-02T08:00:00+01:00,1,2024-02-12T08:00:00+01:00,open,\n"
CAME = "purchasing,PO-9,004711,MAIN,2,2024-02-02T08:00:00+01:00,2,2024-02-19T08:00:00+01:00,received,\n"


@pytest.fixture(autouse=True)
def items(db: None) -> None:
    load_up_to("items")


def test_orders_are_recorded_with_what_came() -> None:
    assert load("supply-orders").counts["created"] == 2

    came, waited_for = SupplyOrder.objects.order_by("external_id")
    assert (came.status, came.received_quantity, came.source_updated_at) == ("received", 2, came.received_at)
    assert (waited_for.status, waited_for.outstanding, waited_for.currency) == ("open", 1, "EUR")
    assert waited_for.source_updated_at == waited_for.ordered_at


def test_the_same_file_again_changes_nothing() -> None:
    load("supply-orders")
    before = list(SupplyOrder.objects.order_by("id").values())

    assert load("supply-orders").counts["unchanged"] == 2
    assert list(SupplyOrder.objects.order_by("id").values()) == before


def test_files_in_any_order_end_in_the_same_state() -> None:
    for files in permutations([OPEN, PART, CAME]):
        SupplyOrder.objects.all().delete()
        for rows in files:
            assert load("supply-orders", HEADER + rows).is_accepted
        order = SupplyOrder.objects.get()
        assert (order.received_quantity, order.status, order.source_updated_at) == (
            2,
            "received",
            order.received_at,
        )


def test_a_later_file_is_told_as_an_update_and_an_older_one_as_nothing_new() -> None:
    load("supply-orders", HEADER + OPEN)

    assert load("supply-orders", HEADER + CAME).counts["updated"] == 1
    assert load("supply-orders", HEADER + OPEN).counts["unchanged"] == 1


def test_a_row_as_new_that_says_otherwise_asks_for_its_version() -> None:
    load("supply-orders", HEADER + OPEN)

    ((line, column, sentence),) = sentences(load("supply-orders", HEADER + OPEN.replace("open", "cancelled")))

    assert (line, column) == (2, "updated_at")
    assert "another status than is recorded and is no newer" in sentence
    assert SupplyOrder.objects.get().status == "open"


def test_a_row_that_gives_its_version_is_believed() -> None:
    load("supply-orders", HEADER + OPEN)

    row = OPEN.replace("open,", "cancelled,2024-02-03T08:00:00+01:00")

    assert load("supply-orders", HEADER + row).counts["updated"] == 1
    assert SupplyOrder.objects.get().status == "cancelled"


def test_a_column_left_out_keeps_what_stands() -> None:
    load("supply-orders")

    shorter = (
        "source,external_id,item,storeroom,quantity,ordered_at,updated_at\n"
        "purchasing,PO-1,004711,MAIN,2,2024-02-02T08:00:00+01:00,2024-03-01T08:00:00+01:00\n"
    )

    assert load("supply-orders", shorter).counts["updated"] == 1
    assert SupplyOrder.objects.get(external_id="PO-1").received_quantity == 2


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (CAME.replace(",2,2024-02-19", ",3,2024-02-19"), "received_quantity", "3 of 2 ordered"),
        (CAME.replace("2024-02-19", "2124-02-19"), "received_at", "in the future"),
        (CAME.replace("2024-02-02", "2124-02-02"), "ordered_at", "in the future"),
        (CAME.replace("2024-02-19T08:00:00+01:00", ""), "received_at", "lead times need it"),
        (OPEN.replace("open", "lost"), "status", "must be one of"),
        (OPEN.replace("004711", "004799"), "item", "There is no item"),
        (OPEN.replace("MAIN,2", "MAIN,0"), "quantity", "from 1 to"),
        (OPEN.replace("purchasing", ""), "source", "must be given"),
    ],
)
def test_a_row_that_makes_no_sense_is_told_by_column(row: str, column: str, words: str) -> None:
    ((line, found, said),) = sentences(load("supply-orders", HEADER + row))

    assert (line, found) == (2, column)
    assert words in said
    assert not SupplyOrder.objects.exists()


def test_many_orders_cost_few_queries() -> None:
    rows = "".join(OPEN.replace("PO-9", f"PO-{n}") for n in range(200))

    with CaptureQueriesContext(connection) as queries:
        load("supply-orders", HEADER + rows)

    assert len(queries) < 22
