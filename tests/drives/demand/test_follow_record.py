"""What is recorded between two runs is followed where it can be, and said to be missing where not."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pytest_django import DjangoDbBlocker

from drives.demand import follow_record as module
from drives.demand.follow_record import follow_record
from drives.demand.recompute import recompute
from drives.demand.stored_needs import stored_needs
from drives.duplicates.merging import merge
from drives.models import Installation, Position, Request, StoredDemand, StoredNeed
from inventory.models import Item, Recommendation, RunState, StockingRun
from inventory.stores.ledger import reverse
from tests.drives.demand.demand_records import day, issue, main_room, put_in_stock, ran, request, sprocket
from tests.factories import PositionFactory, StockingRunFactory
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db

NOW = day(1_000)
TODAY = 999.5


@pytest.fixture(autouse=True)
def _no_overlap(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a test puts down before the run is not recorded after it."""
    monkeypatch.setattr(module, "OVERLAP", timedelta(0))


def place(number: int) -> Position:
    """With a part of its own that failed before."""
    position = PositionFactory(teeth=17 + number)
    part = sprocket(f"SPR-{number}", specification__teeth=17 + number)
    plant = position.drive.equipment.area.plant
    plant.storeroom = main_room()
    plant.save()
    put_in_stock(part)
    for one in range(3):
        ran(position, part, 200 * one, 200 * one + 190)
        request(200 * one + 190, part, position)
    ran(position, part, 600)
    return position


def part_of(position: Position) -> Item:
    return Item.objects.get(stock_number=f"SPR-{(position.teeth or 0) - 17}")


def run() -> None:
    """As of a day of the past: what was put down before this line is known."""
    recompute(as_of=NOW, by="test", is_full=True)
    StockingRun.objects.filter(pk=last().pk).update(followed_until=timezone.now())


def last() -> StockingRun:
    found = StockingRun.objects.first()
    assert found is not None
    return found


@pytest.fixture(scope="module")
def keys(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[list[int]]:
    def make() -> list[int]:
        found = [place(number).pk for number in range(4)]
        run()
        return found

    with shared_rows(django_db_blocker, make) as found:
        yield found


@pytest.fixture
def places(keys: list[int], db: None) -> list[Position]:
    return [Position.objects.get(pk=key) for key in keys]


def fail(position: Position, *, at: float = TODAY, fitted: Item | None = None) -> None:
    unit = position.installations.get(removed_at=None)
    unit.removed_at, unit.ended_by, unit.mechanism = day(at), "failure", "wear"
    unit.save()
    ran(position, fitted or part_of(position), at)


def hashes() -> dict[int, str]:
    return dict(Recommendation.objects.current().values_list("item", "inputs_hash"))


def test_nothing_recorded_is_nothing_to_do(places: list[Position]) -> None:
    with CaptureQueriesContext(connection) as queries:
        assert follow_record(NOW) == 0
    assert len(queries) == 4
    assert not last().is_behind


def test_a_failure_moves_the_advice_on_its_own_part(places: list[Position]) -> None:
    before = hashes()
    fail(places[1])
    assert follow_record(NOW) == 1
    followed = hashes()
    assert {item for item in before if before[item] != followed[item]} == {part_of(places[1]).pk}
    assert not last().is_behind
    run()
    assert hashes() == followed


def test_what_the_part_did_at_a_position_out_of_use_counts_too(places: list[Position]) -> None:
    old = PositionFactory(drive=places[3].drive, role="driven", in_use_until=day(950).date())
    ran(old, part_of(places[1]), 100, 900)
    run()
    fail(places[1])
    assert follow_record(NOW) == 1
    followed = hashes()
    run()
    assert hashes() == followed
    evidence = Recommendation.objects.current().get(item=part_of(places[1])).evidence
    assert [one["position"] for one in evidence["events"] if one["source"] == "removal"].count(old.tag) == 1


def merge_old_number(into: Item) -> Item:
    """A number that was requested and issued for orders and over the counter before it became an old one of this."""
    old = sprocket(f"{into}-OLD", specification=into.specification)
    put_in_stock(old)
    request(990, old, work_order="WO-1")
    issue(990.1, old, work_order="WO-1")
    request(991, old)
    issue(991.1, old)
    # Another issue over the counter is for no request: this one was filled under the old number.
    request(999.2, into)
    issue(999.3, old)
    merge(old, into, by="Ada", reason="One part.", approved_by="Ines Okafor", approval_reason="Compared.")
    return old


def counter_request(place: Position) -> None:
    request(TODAY, part_of(place), result="not_filled")


def counter_issue(place: Position) -> None:
    issue(TODAY, part_of(place))


@pytest.mark.parametrize(
    "change", [fail, counter_request, counter_issue], ids=["failure", "request", "issue"]
)
def test_a_part_with_a_merged_number_is_followed_as_a_full_run_knows_it(
    places: list[Position], change: Callable[[Position], None]
) -> None:
    old = merge_old_number(part_of(places[1]))
    run()
    before = hashes()
    change(places[1])
    assert follow_record(NOW) == 1
    assert not last().is_behind
    followed, needs = hashes(), list(StoredNeed.objects.order_by("item").values())
    assert {item for item in before if before[item] != followed[item]} == {part_of(places[1]).pk}
    assert old.pk not in followed
    run()
    assert hashes() == followed
    again = list(StoredNeed.objects.order_by("item").values())
    assert [without_stamps(one) for one in again] == [without_stamps(one) for one in needs]


def without_stamps(row: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in ("id", "as_of", "run_id", "updated_at")}


def test_the_wait_for_a_part_ends_with_the_issue_under_its_old_number(places: list[Position]) -> None:
    place, part = places[2], part_of(places[2])
    old = sprocket("SPR-OLD", specification=part.specification)
    put_in_stock(old)
    request(980, part, place, result="not_filled", work_order="WO-9")
    issue(980.5, old, work_order="WO-9", position=place.tag)
    merge(old, part, by="Ada", reason="One part.", approved_by="Ines Okafor", approval_reason="Compared.")
    run()
    waits = StoredDemand.objects.get(pk=place.pk).waits
    assert (waits[0]["waits"], waits[0]["not_known"]) == (1, 0)


def test_what_was_followed_is_not_followed_again(places: list[Position]) -> None:
    fail(places[1])
    follow_record(NOW)
    assert follow_record(NOW) == 0
    fail(places[1], at=TODAY + 0.1)
    assert follow_record(NOW) == 1


def test_a_transaction_that_ended_late_is_followed_twice_without_harm(
    places: list[Position], monkeypatch: pytest.MonkeyPatch
) -> None:
    since = last().followed_until
    fail(places[1])
    follow_record(NOW)
    known = hashes()
    monkeypatch.setattr(module, "OVERLAP", last().followed_until - since)
    fail(places[1], at=TODAY + 0.1)
    assert follow_record(NOW) == 1
    assert not last().is_behind
    assert hashes() != known


def test_the_work_does_not_grow_with_the_plant(places: list[Position]) -> None:
    def cost() -> int:
        fail(places[1], at=TODAY)
        with CaptureQueriesContext(connection) as queries:
            assert follow_record(NOW) == 1
        Installation.objects.filter(removed_at=day(TODAY)).delete()
        Installation.objects.filter(position=places[1], removed_at=None).delete()
        ran(places[1], part_of(places[1]), 600)
        run()
        return len(queries)

    few = cost()
    for number in range(4, 24):
        place(number)
    run()
    assert cost() == few


def test_an_issue_that_nobody_requested_and_an_unmet_request_are_followed(places: list[Position]) -> None:
    issue(TODAY, part_of(places[0]), work_order="WO-7", position=places[0].tag)
    request(TODAY, part_of(places[2]), places[2], result="not_filled", work_order="WO-8")
    assert follow_record(NOW) == 2
    waits = StoredDemand.objects.get(pk=places[2].pk).waits
    assert (waits[0]["waits"], waits[0]["not_known"]) == (1, 1)
    issue(TODAY + 0.1, part_of(places[2]), work_order="WO-8", position=places[2].tag)
    follow_record(NOW)
    waits = StoredDemand.objects.get(pk=places[2].pk).waits
    assert (waits[0]["waits"], waits[0]["not_known"]) == (1, 0)


def test_an_issue_for_a_position_that_is_not_known_is_one_of_the_counter(places: list[Position]) -> None:
    issue(TODAY, part_of(places[0]), position="NOWHERE")
    assert follow_record(NOW) == 1
    followed = hashes()
    run()
    assert hashes() == followed


def test_a_request_that_was_retracted_is_followed(places: list[Position]) -> None:
    asked = request(TODAY, part_of(places[2]), places[2], result="not_filled")
    known = hashes()
    follow_record(NOW)
    assert hashes() != known
    asked.retracted_at = NOW
    asked.save()
    assert follow_record(NOW) == 1
    assert hashes() == known


def other_unit(places: list[Position]) -> None:
    fail(places[1], fitted=part_of(places[2]))


def month_before(places: list[Position]) -> None:
    fail(places[1], at=940)


def corrected_unit(places: list[Position]) -> None:
    unit = places[1].installations.get(removed_at=None)
    unit.installed_at = day(601)
    unit.save()


def deleted_unit(places: list[Position]) -> None:
    places[1].installations.order_by("installed_at")[0].delete()
    fail(places[1])


def reversed_issue(places: list[Position]) -> None:
    booked = issue(TODAY, part_of(places[1]))
    run()
    reverse(booked.entries[0], by="Ada", reason="Typed wrong.")


def new_item(places: list[Position]) -> None:
    request(TODAY, sprocket("SPR-NEW"), places[1])


def new_position(places: list[Position]) -> None:
    request(TODAY, part_of(places[1]), PositionFactory())


def merged_number(places: list[Position]) -> None:
    """No movement, no request of its own."""
    part = part_of(places[1])
    old = sprocket("SPR-OLD", specification=part.specification)
    merge(old, part, by="Ada", reason="One part.", approved_by="Ines Okafor", approval_reason="Compared.")
    request(TODAY, part, places[1])


def changed_request(places: list[Position]) -> None:
    asked = Request.objects.order_by("-at")[0]
    asked.quantity = 3
    asked.save()


WAITING = (
    *(other_unit, month_before, corrected_unit, deleted_unit, reversed_issue),
    *(new_item, new_position, merged_number, changed_request),
)


@pytest.mark.parametrize("change", WAITING, ids=lambda change: change.__name__)
def test_what_reaches_farther_waits_for_the_next_run(
    places: list[Position], change: Callable[[list[Position]], None]
) -> None:
    change(places)
    known = hashes()
    assert follow_record(NOW) == 0
    assert hashes() == known
    assert stored_needs().as_fact().code == "demand_older_than_record"
    run()
    assert not last().is_behind


def test_the_demand_is_that_of_the_record_once_it_was_followed(places: list[Position]) -> None:
    request(TODAY, part_of(places[2]), places[2])
    assert stored_needs().is_record_newer
    follow_record(NOW)
    assert not stored_needs().is_record_newer


def test_another_day_waits_for_its_run(places: list[Position]) -> None:
    fail(places[1])
    assert follow_record(NOW + timedelta(days=1)) == 0
    assert last().is_behind


def test_what_was_decided_since_the_run_is_asked_again_when_its_inputs_change(places: list[Position]) -> None:
    Recommendation.objects.update(state="accepted", decided_at=timezone.now(), decided_by_name="Ada")
    fail(places[1])
    follow_record(NOW)
    states = dict(Recommendation.objects.current().values_list("item", "state"))
    assert [item for item, state in states.items() if state == "open"] == [part_of(places[1]).pk]


def test_a_run_under_way_is_left_alone(places: list[Position]) -> None:
    fail(places[1])
    run = StockingRunFactory(state=RunState.RUNNING)
    known = hashes()
    assert follow_record(NOW) == 0
    assert (hashes(), last().pk, last().is_behind) == (known, run.pk, False)


def test_a_run_that_begins_meanwhile_has_the_last_word(
    places: list[Position], monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded = module.load_demand_snapshot

    def while_loading(*args: Any, **more: Any) -> Any:
        StockingRunFactory(state=RunState.RUNNING)
        return loaded(*args, **more)

    monkeypatch.setattr(module, "load_demand_snapshot", while_loading)
    fail(places[1])
    known = hashes()
    assert follow_record(NOW) == 0
    assert hashes() == known


def test_the_command_says_what_it_did(places: list[Position], capsys: pytest.CaptureFixture[str]) -> None:
    call_command("follow_record")
    assert capsys.readouterr().out == "Parts in storerooms calculated again: 0.\n"
    fail(places[1])
    call_command("follow_record")
    # It is not the day of the run.
    assert capsys.readouterr().out.endswith("waits for the next stocking run.\n")
