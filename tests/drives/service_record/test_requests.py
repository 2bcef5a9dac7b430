from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from drives.models import Request
from drives.service_record import requests
from drives.service_record.requests import Recorded, ReferenceTaken, RequestRefusal, Retracted
from tests.factories import MORNING, ItemFactory, PositionFactory, RequestFactory, StoreroomFactory
from tests.races import TAKERS, outcomes

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
NOW = MORNING + 10 * DAY


def ask(**changes: Any) -> Recorded:
    asked = {
        "at": MORNING,
        "item": ItemFactory(stock_number="SPR-A"),
        "storeroom": StoreroomFactory(),
        "result": "not_filled",
    }
    return requests.record_request(now=NOW, **{**asked, **changes})


def test_what_was_asked_for_is_recorded() -> None:
    position, other = PositionFactory(), ItemFactory()
    ask(position=position, quantity=2, result="filled_by_substitute", issued_item=other, work_order="WO-7")
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
def test_what_was_given_may_stay_open(given: dict[str, Any]) -> None:
    assert not ask(**given).is_known


def test_a_position_alone_says_for_what() -> None:
    other = ItemFactory()
    assert ask(item=None, position=PositionFactory(), result="filled", issued_item=other).request.pk


REFUSED: list[tuple[dict[str, Any], str, str]] = [
    ({"item": None}, "item", "an item, a position or both"),
    ({"quantity": 0}, "quantity", "from 1 to"),
    ({"quantity": 10**10}, "quantity", "from 1 to"),
    ({"result": "lost"}, "result", "one of filled, filled_by_substitute"),
    ({"at": NOW + timedelta(minutes=6)}, "at", "in the future"),
    ({"at": datetime(2024, 3, 4)}, "at", "needs an offset"),
    ({"work_order": "x" * 61}, "work_order", "at most 60"),
    ({"note": "a\x00b"}, "note", "zero character"),
]


@pytest.mark.parametrize(("wrong", "field", "words"), REFUSED)
def test_what_cannot_be_is_refused_in_words(wrong: dict[str, Any], field: str, words: str) -> None:
    with pytest.raises(RequestRefusal) as refusal:
        ask(**wrong)
    assert refusal.value.field == field
    assert words in refusal.value.sentence
    assert not Request.objects.exists()


@pytest.mark.parametrize(
    ("result", "given", "words"),
    [
        ("not_filled", "SPR-B", "nothing was given"),
        ("not_stocked", "SPR-A", "nothing was given"),
        ("filled", "SPR-B", "filled_by_substitute, not filled"),
        ("filled_by_substitute", "SPR-A", "filled, not filled_by_substitute"),
    ],
)
def test_what_was_given_must_agree_with_the_result(result: str, given: str, words: str) -> None:
    with pytest.raises(RequestRefusal, match=words) as refusal:
        ask(result=result, issued_item=ItemFactory(stock_number=given))
    assert refusal.value.field == "issued_item"


def test_a_known_reference_gives_the_record_that_stands() -> None:
    first = ask(reference="RQ-1")
    again = ask(reference="RQ-1", at=MORNING.astimezone(timezone(DAY / 12)))
    assert (again.is_known, again.request) == (True, first.request)
    assert Request.objects.count() == 1


def test_a_known_reference_that_says_otherwise_is_refused() -> None:
    first = ask(reference="RQ-1").request
    with pytest.raises(ReferenceTaken, match="recorded already with another quantity, result") as refusal:
        ask(reference="RQ-1", quantity=2, result="filled")
    assert (refusal.value.field, refusal.value.request) == ("reference", first)
    assert Request.objects.get().quantity == 1


def test_without_a_reference_every_asking_counts() -> None:
    ask(), ask()
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
    assert (first, again) == (Recorded(drafts[0]), Recorded(drafts[0], is_known=True))
    assert isinstance(other, ReferenceTaken)


def test_a_retracted_request_stays_and_counts_no_more() -> None:
    requests.retract(ask().request, MORNING + DAY, now=NOW)
    assert Request.objects.get().retracted_at == MORNING + DAY
    assert not Request.objects.standing().exists()


@pytest.mark.parametrize(
    ("at", "words"), [(MORNING - DAY, "before 2024-03-04"), (NOW + DAY, "in the future")]
)
def test_a_retraction_lies_between_the_asking_and_now(at: datetime, words: str) -> None:
    with pytest.raises(RequestRefusal, match=words) as refusal:
        requests.retract(ask().request, at, now=NOW)
    assert refusal.value.field == "at"


def test_a_request_is_retracted_once() -> None:
    request = requests.retract(ask().request, MORNING + DAY, now=NOW)
    with pytest.raises(Retracted, match="retracted on 2024-03-05 already"):
        requests.retract(request, MORNING + 2 * DAY, now=NOW)
    assert Request.objects.get().retracted_at == MORNING + DAY


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_one_reference_sent_by_many_at_once_is_recorded_once() -> None:
    ItemFactory(stock_number="SPR-A"), StoreroomFactory()
    assert set(outcomes([lambda: ask(reference="RQ-1")] * TAKERS)) == {"booked"}
    assert Request.objects.count() == 1
