"""The home page: what needs its reader today, each line with its act."""

from datetime import timedelta

import pytest
from django.utils import timezone

from api.models import Reach
from drives.models import WorkOrder
from inventory.models import CountTask, Item
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from inventory.stores.ledger.booking import book
from tests.factories import (
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def home(role: str) -> str:
    return " ".join(signed_in(role, role).get("/").content.decode().split())


@pytest.fixture
def item() -> Item:
    part: Item = ItemFactory(stock_number="SPR-1", specification=SprocketFactory())
    stock(part, StoreroomFactory(), 5)
    return part


def test_the_counter_sees_what_is_to_do_with_the_act_beside_it(item: Item) -> None:
    room = StoreroomFactory()
    book(
        Movement(
            kind="issue",
            item=item,
            storeroom=room,
            by="marta",
            quantity=1,
            work_order="WO-1",
            expected_back_on=TODAY(),
        )
    )
    ledger.reserve(item=item, storeroom=room, condition="new", quantity=2, work_order="WO-2", by="marta")
    task = CountTask.objects.create(item=item, storeroom=room, cause="value", due_on=TODAY())
    order = SupplyOrderFactory(
        item=item, external_id="PO-3", promised_on=TODAY(), received_quantity=0, received_at=None
    )
    page = home("storeroom")
    for title in ("Expected back", "Reserved: to pick", "Counts due", "Deliveries due"):
        assert title in page
    assert "/counter/return/?item=SPR-1&amp;quantity=1" in page
    assert "/counter/issue/?item=SPR-1&amp;quantity=2&amp;work_order=WO-2" in page
    assert f"/counts/{task.pk}/" in page
    assert "PO-3" in page
    assert f"/deliveries/orders/{order.pk}/" in page


def test_the_office_sees_jobs_orders_and_units_that_need_a_decision(item: Item) -> None:
    late = TODAY() - timedelta(days=2)
    SupplyOrderFactory(item=item, external_id="PO-3", promised_on=late, received_quantity=0, received_at=None)
    WorkOrder.objects.create(
        source="works",
        external_id="WO-9",
        source_updated_at=timezone.now(),
        was_ready=False,
        needed_by=TODAY(),
    )
    InstallationFactory(position=PositionFactory(), item=item, temporary_until=TODAY() + timedelta(days=3))
    page = home("manager")
    for title in ("Jobs whose parts are not there", "Late orders", "Temporary units ending"):
        assert title in page
    assert "Counts due" not in page


def test_what_lies_outside_the_reach_of_its_reader_is_not_shown(item: Item) -> None:
    CountTask.objects.create(item=item, storeroom=StoreroomFactory(), cause="value", due_on=TODAY())
    reach = Reach.objects.create(user=UserFactory(username="storeroom"))
    reach.storerooms.set([StoreroomFactory(code="ELSEWHERE")])
    assert "Counts due" not in home("storeroom")


def test_a_plant_without_records_is_told_where_to_begin() -> None:
    page = home("manager")
    assert "Bring in the storerooms" in page
    assert "Bring in the items" in page
    stock(ItemFactory(), StoreroomFactory(), 1)
    PositionFactory()
    assert "Bring in the items" not in home("manager")
