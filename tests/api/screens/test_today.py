"""The home page: what needs its reader today, each line with its act."""

from datetime import timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.contrib.auth.models import Group, User
from django.test import Client
from django.utils import timezone

from api.models import AccessToken, Reach
from api.screens.today.expiring_tokens import expiring_tokens
from api.screens.today.lines import Section
from drives.models import Plant, RecordedVerdict, WorkOrder
from inventory.models import CountTask, FitQuestion, Item
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from inventory.stores.ledger.booking import book
from tests.factories import (
    DriveFactory,
    DrivenFactory,
    InspectionFactory,
    InstallationFactory,
    ItemFactory,
    OpeningHoursFactory,
    PositionFactory,
    RecommendationFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate


def home(role: str, name: str = "") -> str:
    return " ".join(signed_in(role, name or role).get("/").content.decode().split())


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
    job = WorkOrder.objects.create(
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
    assert f'href="/planning/jobs/?job={job.pk}#job-{job.pk}">What is missing' in page
    assert '<a href="/planning/jobs/">Jobs whose parts are not there</a>' in page
    assert "Counts due" not in page
    CountTask.objects.create(item=item, storeroom=StoreroomFactory(), cause="value", due_on=TODAY())
    assert "Counts due" not in home("manager", "ines")
    both = signed_in("manager", "jan")
    User.objects.get(username="jan").groups.add(Group.objects.get(name="storeroom"))
    page = both.get("/").content.decode()
    assert "Late orders" in page
    assert "Counts due" in page


def test_a_unit_in_use_is_approved_from_its_line(item: Item) -> None:
    unit = InstallationFactory(item=item, awaits_approval=True, recorded_by_name="marta")
    address = f"/installations/{unit.pk}/approve/"
    assert f'href="{address}?then=/">Approve' in home("manager")
    manager = Client()
    manager.force_login(User.objects.get(username="manager"))
    assert 'name="approved_by" value="manager"' in manager.get(address).content.decode()
    empty = manager.post(address, {"key": "1", "until_on": "soon"})
    assert empty.status_code == 400
    for field in ("approved_by", "until_on"):
        assert f'href="#approve-{field}"' in empty.content.decode()
    right = {"approved_by": "Ines Okafor", "until_on": TODAY() + timedelta(days=9), "reference": "MoC 7"}
    assert manager.post(address, right | {"key": "2", "then": "/"}).headers["Location"] == "/"
    today = manager.get("/").content.decode()
    assert "Units that await approval" not in today
    assert f'href="{address}?then=/">Approve for longer' in today
    place = manager.get(f"/positions/{unit.position.tag}/").content.decode()
    assert "approved by Ines Okafor, MoC 7" in place
    assert manager.post(address, right | {"key": "3"}).status_code == 409
    assert signed_in("storeroom").post(address, right | {"key": "4"}).status_code == 403


def test_what_a_temporary_unit_differs_in_is_told_once_with_the_day_that_was_asked_for(item: Item) -> None:
    last = TODAY() + timedelta(days=9)
    unit = InstallationFactory(
        item=item,
        awaits_approval=True,
        temporary_until=last,
        inspect_by=last,
        differences=["Softer", "Softer"],
    )
    RecordedVerdict.objects.create(
        installation=unit, position=unit.position, item=item, grade="unfit", quote="q"
    )
    today = home("manager")
    assert "Temporary units ending" not in today
    assert "Inspections due" in today
    manager = Client()
    manager.force_login(User.objects.get(username="manager"))
    page = manager.get(f"/installations/{unit.pk}/approve/").content.decode()
    assert page.count("<li>Softer</li>") == 1
    assert "Does not fit" in page
    assert "Who may approve such a part is not recorded for this plant." in page
    assert f'name="until_on" value="{last}"' in page


def test_decisions_stand_in_the_order_of_the_money_at_risk(item: Item) -> None:
    """By hand: three shortages a year avoided, at 24 hours of 100 an hour, against one at 24 hours of 200."""
    for number, cost, rate in (("SPR-7", 200, 1.0), ("SPR-8", 100, 3.0)):
        part = ItemFactory(stock_number=number, specification=SprocketFactory())
        drive = DriveFactory(tag=f"D-{number}", downtime_cost_per_hour=cost, currency="EUR")
        InstallationFactory(position=PositionFactory(tag=f"P-{number}", drive=drive), item=part)
        RecommendationFactory(item=part, rate_per_year=rate, expected_stockouts_per_year=0.0)
    page = home("manager")
    assert page.index("stops of up to 7,200 EUR a year") < page.index("stops of up to 4,800 EUR a year")


def test_a_chain_stands_in_the_office_when_its_wear_limit_comes(item: Item) -> None:
    """By hand: 0.03 % a day from 0.5 %, 51 teeth: 3 % is reached 83 days after the first reading, in 3 days."""
    place = PositionFactory(drive=DriveFactory(tag="D-1", hours_per_year=8760))
    DrivenFactory(drive=place.drive)
    for day in (0, 40, 80):
        at = timezone.now() - timedelta(days=80 - day)
        InspectionFactory(position=place, at=at, elongation_percent=Decimal("0.5") + Decimal("0.03") * day)
    page = home("manager")
    assert "Chain at its wear limit within 30 days" in page
    assert "limit reached about" in page
    assert "/drives/D-1/" in page


def test_what_was_taken_while_the_storeroom_was_closed_is_to_be_counted_or_booked(item: Item) -> None:
    room = StoreroomFactory()
    other_day = (timezone.localdate(timezone=ZoneInfo(room.timezone)).weekday() + 3) % 7
    OpeningHoursFactory(storeroom=room, weekday=other_day, opens="06:00", closes="07:00")
    book(Movement(kind="issue", item=item, storeroom=room, by="jan", quantity=1, work_order="WO-1"))
    place = PositionFactory()
    Plant.objects.update(storeroom=room)
    InstallationFactory(position=place, item=ItemFactory(stock_number="SPR-2"), installed_at=timezone.now())
    page = home("storeroom")
    assert "Out of hours: to check" in page
    assert "/counter/count/?item=SPR-1&amp;storeroom=MAIN" in page
    assert f"/counter/issue/?item=SPR-2&amp;position={place.tag}" in page


def test_a_question_about_fit_is_answered_on_its_page(item: Item) -> None:
    room = StoreroomFactory()
    back = book(
        Movement(kind="return", item=item, storeroom=room, by="jan", quantity=1, reason_code="did_not_fit")
    )
    question = FitQuestion.objects.create(item=item, storeroom=room, entry=back.entry)
    clerk = signed_in("storeroom", "storeroom")
    assert f"/questions/{question.pk}/" in clerk.get("/").content.decode()
    address = f"/questions/{question.pk}/"
    assert clerk.post(address, {"answer": " ", "key": "1"}).status_code == 400
    assert clerk.post(address, {"answer": "bore is 34", "key": "2"}).status_code == 302
    question.refresh_from_db()
    assert question.answer == "bore is 34"
    assert signed_in("viewer").post(address, {"answer": "no"}).status_code == 403


def test_what_lies_outside_the_reach_of_its_reader_is_not_shown(item: Item) -> None:
    CountTask.objects.create(item=item, storeroom=StoreroomFactory(), cause="value", due_on=TODAY())
    reach = Reach.objects.create(user=UserFactory(username="storeroom"))
    reach.storerooms.set([StoreroomFactory(code="ELSEWHERE")])
    assert "Counts due" not in home("storeroom")


def test_a_plant_without_records_is_told_where_to_begin() -> None:
    assert '/imports/?kind=items#send">Bring in the items' in home("manager")
    assert "A maintenance manager brings them in" in home("storeroom")
    stock(ItemFactory(), StoreroomFactory(), 1)
    page = signed_in("manager", "other").get("/").content.decode()
    assert "Bring in the items with their dimensions: <strong>done" in page
    assert '/imports/?kind=drives#send">Bring in the drives' in page


def test_a_token_that_ends_soon_is_named_to_its_owner_and_to_administrators(client: Client) -> None:
    owner, other = UserFactory(username="olga"), UserFactory(username="otto")
    for name, days, user in (("terminal", 13, owner), ("later", 15, owner), ("machine", 1, None)):
        AccessToken.objects.issue(name, role="storeroom", days=days, user=user)
    assert [names_of(expiring_tokens(user)) for user in (owner, other)] == [["terminal"], []]
    assert names_of(expiring_tokens(UserFactory(is_superuser=True))) == ["machine", "terminal"]
    client.force_login(owner)
    assert "Tokens that expire soon" in client.get("/").content.decode()
    AccessToken.objects.update(revoked_at=timezone.now())
    assert expiring_tokens(owner).count == 0


def names_of(section: Section) -> list[str]:
    return [line.name for line in section.lines]
