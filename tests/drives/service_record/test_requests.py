from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from drives.models import Request
from drives.service_record import requests
from drives.service_record.requests import AlreadyRetracted, RecordedRequest, ReferenceTaken, RequestRefusal
from tests.factories import MORNING, ItemFactory, PositionFactory, RequestFactory, StoreroomFactory
from tests.races import TAKERS, outcomes

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
NOW = MORNING + 10 * DAY


def record(**changes: Any) -> RecordedRequest:
    asked = {
        "at": MORNING,
        "item": ItemFactory(stock_number="SPR-A"),
        "storeroom": StoreroomFactory(),
        "result": "not_filled",
    }
    return requests.record_request(**{**asked, **changes})


def test_a_request_is_recorded() -> None:
    position, other = PositionFactory(), ItemFactory()
    record(position=position, quantity=2, result="filled_by_substitute", issued_item=other, work_order="WO-7")
    request = Request.objects.get()
    assert (request.item and request.item.stock_number, request.position) == ("SPR-A", position)
    assert (request.quantity, request.issued_item, request.work_order) == (2, other, "WO-7")


@pytest.mark.parametrize(
    "given",
    [
        {"result": "partly", "quantity": 3},
        {"result": "not_stocked", "is_planned": False},
        {"result": "filled"},
        {"result": "filled_by_substitute"},
    ],
)
def test_the_issued_item_may_be_unknown(given: dict[str, Any]) -> None:
    assert not record(**given).is_known


def test_a_position_alone_is_enough() -> None:
    other = ItemFactory()
    assert record(item=None, position=PositionFactory(), result="filled", issued_item=other).request.pk


REFUSED: list[tuple[dict[str, Any], str, str]] = [
    ({"item": None}, "item", "request_without_item_or_position"),
    ({"quantity": 0}, "quantity", "quantity_out_of_range"),
    ({"quantity": 10**10}, "quantity", "quantity_out_of_range"),
    ({"result": "lost"}, "result", "word_not_known"),
    ({"at": timezone.now() + DAY}, "at", "moment_in_future"),
    ({"at": datetime(2024, 3, 4)}, "at", "moment_without_offset"),
    ({"work_order": "x" * 61}, "work_order", "text_too_long"),
    ({"note": "a\x00b"}, "note", "text_with_zero_character"),
]


@pytest.mark.parametrize(("wrong", "field", "code"), REFUSED)
def test_an_invalid_request_is_refused_with_a_code(wrong: dict[str, Any], field: str, code: str) -> None:
    with pytest.raises(RequestRefusal) as refusal:
        record(**wrong)
    assert (refusal.value.field, refusal.value.fact.code) == (field, code)
    assert not Request.objects.exists()


@pytest.mark.parametrize(
    ("result", "issued", "code"),
    [
        ("not_filled", "SPR-B", "issued_although_not_filled"),
        ("not_stocked", "SPR-A", "issued_although_not_filled"),
        ("filled", "SPR-B", "filled_with_another_item"),
        ("filled_by_substitute", "SPR-A", "substitute_is_the_item_itself"),
    ],
)
def test_the_issued_item_must_agree_with_the_result(result: str, issued: str, code: str) -> None:
    with pytest.raises(RequestRefusal, match=code) as refusal:
        record(result=result, issued_item=ItemFactory(stock_number=issued))
    assert refusal.value.field == "issued_item"


def test_a_known_reference_gives_the_record_that_stands() -> None:
    first = record(reference="RQ-1")
    again = record(reference="RQ-1", at=MORNING.astimezone(timezone.get_fixed_timezone(DAY / 12)))
    assert (again.is_known, again.request) == (True, first.request)
    assert Request.objects.count() == 1


def test_a_known_reference_that_says_otherwise_is_refused() -> None:
    first = record(reference="RQ-1").request
    with pytest.raises(ReferenceTaken, match=r"reference_already_recorded.*quantity.*result") as refusal:
        record(reference="RQ-1", quantity=2, result="filled")
    assert (refusal.value.field, refusal.value.request) == ("reference", first)
    assert Request.objects.get().quantity == 1


def test_without_a_reference_every_request_counts() -> None:
    record(), record()
    assert Request.objects.count() == 2


def test_many_are_recorded_in_few_queries(django_assert_max_num_queries: Any) -> None:
    item, room = ItemFactory(), StoreroomFactory()
    drafts = [RequestFactory.build(item=item, storeroom=room, reference=f"RQ-{n}") for n in range(200)]
    drafts[7].quantity = 0
    with django_assert_max_num_queries(10):
        answers = requests.record_many(drafts)
    assert [n for n, one in enumerate(answers) if isinstance(one, RequestRefusal)] == [7]
    assert Request.objects.count() == 199


def test_a_reference_twice_in_one_lot_is_recorded_once() -> None:
    item, room = ItemFactory(), StoreroomFactory()
    drafts = [
        RequestFactory.build(item=item, storeroom=room, reference="RQ-1", quantity=n) for n in (1, 1, 2)
    ]
    first, again, other = requests.record_many(drafts)
    assert (first, again) == (RecordedRequest(drafts[0]), RecordedRequest(drafts[0], is_known=True))
    assert isinstance(other, ReferenceTaken)


def test_a_retracted_request_stays_and_counts_no_more() -> None:
    requests.retract(record().request, MORNING + DAY, now=NOW)
    assert Request.objects.get().retracted_at == MORNING + DAY
    assert not Request.objects.standing().exists()


@pytest.mark.parametrize(
    ("at", "code"), [(MORNING - DAY, "retracted_before_request"), (NOW + DAY, "moment_in_future")]
)
def test_a_retraction_is_between_the_request_and_now(at: datetime, code: str) -> None:
    with pytest.raises(RequestRefusal, match=code) as refusal:
        requests.retract(record().request, at, now=NOW)
    assert refusal.value.field == "at"


def test_a_request_is_retracted_once() -> None:
    request = requests.retract(record().request, MORNING + DAY, now=NOW)
    with pytest.raises(AlreadyRetracted, match=r"request_already_retracted.*2024-03-05"):
        requests.retract(request, MORNING + 2 * DAY, now=NOW)
    assert Request.objects.get().retracted_at == MORNING + DAY


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_one_reference_sent_by_many_at_once_is_recorded_once() -> None:
    ItemFactory(stock_number="SPR-A"), StoreroomFactory()
    assert set(outcomes([lambda: record(reference="RQ-1")] * TAKERS)) == {"booked"}
    assert Request.objects.count() == 1
