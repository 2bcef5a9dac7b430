"""Deliveries from a file are judged and booked, once; orders keep their supplier."""

import pytest

from inventory.models import DeliveryCheck, StockLevel, SupplyOrder
from tests.api.exchange.files import PLANT, load, load_up_to, sentences

pytestmark = pytest.mark.django_db
HEADER = PLANT["delivery-checks"].splitlines()[0] + "\n"


@pytest.fixture(autouse=True)
def orders(db: None) -> None:
    load_up_to("supply-orders")


def test_a_delivery_is_booked_once_by_its_reference() -> None:
    before = StockLevel.objects.totals().on_hand
    assert load("delivery-checks").counts["created"] == 1
    assert load("delivery-checks").counts["unchanged"] == 1

    check = DeliveryCheck.objects.get()
    assert (check.outcome, check.held_quantity, check.wrong) == ("something_else", 1, "rusty")
    assert StockLevel.objects.get(condition="on_hold").on_hand == 1
    assert StockLevel.objects.totals().on_hand == before + 1


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("DC-2,purchasing,PO-9,1,2024-05-21T08:00:00+02:00,,,,rusty\n", "external_id"),
        ("DC-2,purchasing,PO-1,1,2024-05-21T08:00:00+02:00,,,,rusty\n", "quantity"),
        ("DC-2,purchasing,PO-2,1,2024-05-21T08:00:00+02:00,17,1,0.28 in x,\n", "tooth_width_mm"),
    ],
)
def test_a_row_that_cannot_be_booked_names_its_column(row: str, column: str) -> None:
    ((line, found, _),) = sentences(load("delivery-checks", HEADER + row))
    assert (line, found) == (2, column)
    assert not DeliveryCheck.objects.exists()


def test_a_file_without_suppliers_keeps_them() -> None:
    header, row = PLANT["supply-orders"].splitlines()[0], PLANT["supply-orders"].splitlines()[2]
    assert load(
        "supply-orders", f"{header},supplier,updated_at\n{row},Weir Chain,2024-06-01T08:00:00Z\n"
    ).is_accepted
    assert load("supply-orders", f"{header},updated_at\n{row},2024-06-02T08:00:00Z\n").is_accepted
    assert SupplyOrder.objects.get(external_id="PO-2").supplier == "Weir Chain"
