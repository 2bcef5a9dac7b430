from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from drives.models import Inspection, Installation
from drives.service_record import history
from inventory.stores import ledger
from tests import movements
from tests.drives.past_units import record_past
from tests.factories import MORNING, ItemFactory, PositionFactory, SprocketFactory, StoreroomFactory, stock
from tests.races import outcomes

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"
DAY = timedelta(days=1)


@pytest.fixture
def position():
    return PositionFactory(tag="STEEP-EL1-DRV")


@pytest.fixture
def item():
    return ItemFactory(stock_number="SPR-08B17")


def past(position, item, begin, end, **details):
    return record_past(
        position,
        item=item,
        installed_at=MORNING + begin * DAY,
        removed_at=MORNING + end * DAY,
        ended_by="preventive",
        **details,
    )


def test_a_unit_is_fitted_with_the_specification_of_that_day(position, item):
    unit = history.install(position, item=item, installed_at=MORNING, installed_why="first fitting")
    assert (unit.item, unit.specification, unit.installed_why) == (item, item.specification, "first fitting")
    assert history.fitted_at(position) == unit


def test_a_unit_without_a_stock_number_is_fitted_by_its_specification(position):
    unit = history.install(position, specification=SprocketFactory(), installed_at=MORNING)
    assert unit.item is None


def test_a_temporary_unit_says_until_when_and_who_allowed_it(position, item):
    until = (MORNING + 14 * DAY).date()
    unit = history.install(
        position,
        item=item,
        installed_at=MORNING,
        temporary_until=until,
        approved_by="Ines Okafor",
        approval_reference="MOC-12",
        inspect_by=until,
        differences=["hub 4 mm longer"],
    )
    unit.refresh_from_db()
    assert (unit.temporary_until, unit.approved_by, unit.differences) == (
        until,
        "Ines Okafor",
        ["hub 4 mm longer"],
    )


@pytest.mark.parametrize("approved_by", ["", "  "])
def test_a_temporary_unit_needs_an_approver(position, item, approved_by):
    with pytest.raises(history.HistoryRefusal) as refused:
        history.install(
            position,
            item=item,
            installed_at=MORNING,
            temporary_until=MORNING.date(),
            approved_by=approved_by,
        )
    assert refused.value.field == "approved_by"
    assert history.fitted_at(position) is None


def test_it_refuses_a_second_unit_at_one_position(position, item):
    unit = history.install(position, item=item, installed_at=MORNING)
    with pytest.raises(
        history.UnitFitted, match=r"unit_already_fitted.*2024-03-04.*STEEP-EL1-DRV"
    ) as refusal:
        history.install(position, item=item, installed_at=MORNING + DAY)
    assert (refusal.value.field, refusal.value.installation) == ("position", unit)


def test_a_removal_ends_the_installation_and_says_how(position, item):
    history.install(position, item=item, installed_at=MORNING)
    unit = history.remove(
        position,
        removed_at=MORNING + 100 * DAY,
        ended_by="failure",
        mechanism="wear",
        running_hours=Decimal("1234.5"),
        work_order="WO-7",
    )
    unit.refresh_from_db()
    assert (unit.ended_by, unit.mechanism, unit.work_order) == ("failure", "wear", "WO-7")
    assert (unit.running_hours, unit.age_basis) == (Decimal("1234.5"), "meter")
    assert history.fitted_at(position) is None


def test_hours_follow_from_the_calendar_without_a_meter(position, item):
    history.install(position, item=item, installed_at=MORNING)
    unit = history.remove(position, removed_at=MORNING + 73 * DAY, ended_by="failure")
    assert (unit.running_hours, unit.age_basis) == (Decimal("1200.0"), "calendar")


def test_hours_stay_unknown_if_the_drive_has_none(position, item):
    position.drive.hours_per_year = None
    position.drive.save()
    history.install(position, item=item, installed_at=MORNING)
    unit = history.remove(position, removed_at=MORNING + DAY, ended_by="unknown")
    assert (unit.running_hours, unit.age_basis) == (None, "")


def test_a_unit_is_removed_once(position, item):
    unit = history.install(position, item=item, installed_at=MORNING)
    history.remove(unit, removed_at=MORNING + DAY, ended_by="failure")
    with pytest.raises(history.NothingFitted, match=r"removal_already_recorded.*2024-03-05"):
        history.remove(unit, removed_at=MORNING + 2 * DAY, ended_by="failure")
    with pytest.raises(history.NothingFitted, match=r"nothing_fitted.*STEEP-EL1-DRV"):
        history.remove(position, removed_at=MORNING + 2 * DAY, ended_by="failure")


REFUSED_ENDS = [
    ({"removed_at": MORNING - DAY}, "removed_at", "removed_before_installed.*2024-03-04"),
    ({"removed_at": timezone.now() + DAY}, "removed_at", "moment_in_future"),
    ({"removed_at": MORNING.replace(tzinfo=None)}, "removed_at", "moment_without_offset"),
    ({"ended_by": ""}, "ended_by", "end_without_reason.*failure"),
    ({"ended_by": "bored"}, "ended_by", "word_not_known"),
    ({"mechanism": "gremlins"}, "mechanism", "word_not_known.*wear"),
    ({"running_hours": Decimal("-1")}, "running_hours", "value_negative"),
    ({"running_hours": Decimal("NaN")}, "running_hours", "value_not_valid"),
    ({"age_basis": "guess"}, "age_basis", "word_not_known"),
    ({"work_order": "x" * 61}, "work_order", "text_too_long.*60"),
    ({"note": "a\x00"}, "note", "text_with_zero_character"),
]


@pytest.mark.parametrize(("wrong", "field", "code"), REFUSED_ENDS)
def test_it_refuses_invalid_removals(position, item, wrong, field, code):
    history.install(position, item=item, installed_at=MORNING)
    end = {"removed_at": MORNING + DAY, "ended_by": "failure", "running_hours": Decimal(1)} | wrong
    with pytest.raises(history.HistoryRefusal, match=code) as refusal:
        history.remove(position, **end)
    assert refusal.value.field == field
    assert Installation.objects.still_fitted().exists()


REFUSED_BEGINNINGS = [
    ({"item": None}, "item", "installation_without_part"),
    ({"installed_at": timezone.now() + DAY}, "installed_at", "moment_in_future"),
    ({"installed_at": MORNING.replace(year=1)}, "installed_at", "moment_implausible"),
    ({"installed_at": MORNING.replace(tzinfo=None)}, "installed_at", "moment_without_offset"),
    ({"installed_why": "x" * 201}, "installed_why", "text_too_long.*200"),
]


@pytest.mark.parametrize(("wrong", "field", "code"), REFUSED_BEGINNINGS)
def test_it_refuses_invalid_installations(position, item, wrong, field, code):
    with pytest.raises(history.HistoryRefusal, match=code) as refusal:
        history.install(position, **{"item": item, "installed_at": MORNING} | wrong)
    assert refusal.value.field == field


LIVES = [
    (0, 1, None),
    (5, 10, None),
    (6, 9, None),
    (30, 31, None),
    (5, 5, None),
    (4, 6, "installed_at"),
    (12, 13, "installed_at"),
    (12, 12, "installed_at"),
    (8, 11, "removed_at"),
    (0, 40, "removed_at"),
]


@pytest.mark.parametrize(("begin", "end", "field"), LIVES)
def test_installations_at_one_position_follow_each_other(position, item, begin, end, field):
    for taken in ((1, 5), (10, 15), (20, 30)):
        past(position, item, *taken)
    if field is None:
        assert past(position, item, begin, end).pk
        return
    with pytest.raises(history.InstallationsOverlap, match=r"overlaps_.*STEEP-EL1-DRV") as refusal:
        past(position, item, begin, end)
    assert refusal.value.field == field


def test_it_refuses_an_installation_before_one_that_has_ended(position, item):
    past(position, item, 10, 20)
    with pytest.raises(history.InstallationsOverlap, match=r"overlaps_earlier_unit.*2024-03-14.*2024-03-24"):
        history.install(position, item=item, installed_at=MORNING)


def test_a_past_installation_must_end_before_the_fitted_unit(position, item):
    history.install(position, item=item, installed_at=MORNING + 10 * DAY)
    with pytest.raises(history.InstallationsOverlap, match=r"overlaps_fitted_unit.*2024-03-14"):
        past(position, item, 5, 11)
    assert past(position, item, 5, 10).age_basis == "calendar"


def test_the_unit_that_was_issued_is_known_by_its_entry(position, item):
    main = StoreroomFactory()
    stock(item, main, 1)
    entry = movements.issue(item, main, 1, by=MARTA).entry
    unit = history.install(position, item=item, installed_at=MORNING, stock_entry=entry)
    assert entry.installation == unit


def entry_of(kind, item):
    main, other = StoreroomFactory(), ItemFactory(stock_number="SPR-OTHER")
    receipt = stock(item, main, 2).entry
    if kind == "receipt":
        return receipt
    if kind == "other":
        stock(other, main, 1)
        return movements.issue(other, main, 1, by=MARTA).entry
    issue = movements.issue(item, main, 1, by=MARTA).entry
    if kind == "reversed":
        ledger.reverse(issue, by=MARTA, reason="wrong shelf")
    if kind == "used":
        history.install(PositionFactory(tag="OTHER"), item=item, installed_at=MORNING, stock_entry=issue)
    return issue


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("receipt", "movement_not_an_issue"),
        ("other", "movement_of_another_item.*SPR-OTHER.*SPR-08B17"),
        ("reversed", "issue_was_reversed"),
        ("used", "issue_belongs_to_another_unit"),
    ],
)
def test_it_refuses_movements_that_cannot_have_issued_the_unit(position, item, kind, code):
    with pytest.raises(history.HistoryRefusal, match=code):
        history.install(position, item=item, installed_at=MORNING, stock_entry=entry_of(kind, item))


def test_an_inspection_is_recorded(position):
    seen = history.record_inspection(
        position, at=MORNING, elongation_percent=Decimal("1.2"), hooked_teeth=True
    )
    assert Inspection.objects.get() == seen


@pytest.mark.parametrize(
    ("wrong", "field", "code"),
    [
        ({"at": timezone.now() + DAY}, "at", "moment_in_future"),
        ({"at": MORNING.replace(year=1)}, "at", "moment_implausible.*1900"),
        ({"elongation_percent": None}, "elongation_percent", "inspection_without_finding"),
        (
            {"elongation_percent": Decimal(21)},
            "elongation_percent",
            "elongation_out_of_range.*20.*-1",
        ),
        ({"running_hours": Decimal(-1)}, "running_hours", "value_negative"),
    ],
)
def test_it_refuses_invalid_inspections(position, wrong, field, code):
    with pytest.raises(history.HistoryRefusal, match=code) as refusal:
        history.record_inspection(position, **{"at": MORNING, "elongation_percent": Decimal(1)} | wrong)
    assert refusal.value.field == field


def test_an_inspection_is_not_before_the_first_unit(position, item):
    history.install(position, item=item, installed_at=MORNING)
    with pytest.raises(history.HistoryRefusal, match=r"inspection_before_first_unit.*2024-03-04"):
        history.record_inspection(position, at=MORNING - DAY, hooked_teeth=True)
    assert history.record_inspection(position, at=MORNING, hooked_teeth=True).pk


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_one_of_many_fits_the_unit():
    position, item = PositionFactory(), ItemFactory()
    acts = [lambda: history.install(position, item=item, installed_at=MORNING)] * 8
    assert outcomes(acts) == {"booked": 1, "UnitFitted": 7}
