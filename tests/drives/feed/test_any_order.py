"""Any order of arrival and any repetition of the same messages ends in the same state."""

import os
import random
from typing import Any

import pytest
from django.db import transaction

from drives.models import InboundMessage, Installation, WorkOrder
from inventory.stores.ledger import replay
from tests.drives.feed.messages import closed, day, order, place, reading, send, used
from tests.drives.feed.state_hash import state, state_hash

pytestmark = pytest.mark.django_db
SHUFFLES = int(os.environ.get("FEED_SHUFFLES", "3"))
"""So many in every run; 1,000 in the nightly one."""
SEED = 20_260_301

# A job opened, closed, coded anew and moved in time; a failure told two years late; one taken back; pieces returned and
# counted anew; a newer message than counts that names what is not there; a parts list of its own; a meter changed.
MESSAGES: list[tuple[str, str, dict[str, Any]]] = [
    ("work_order", "WO-1", order(1, parts_needed=[used()])),
    ("work_order", "WO-1", closed(3, day(700), [used()], parts_needed=[used()])),
    ("work_order", "WO-1", closed(9, day(699), [used()], failure={"mechanism": "overload"})),
    ("work_order", "WO-2", closed(12, day(60), [used("SPR-B")])),
    ("work_order", "WO-3", closed(2, day(400), [used("SPR-B", 2)])),
    ("work_order", "WO-3", order(7, status="cancelled")),
    ("work_order", "WO-4", order(4, parts_used=[used(quantity=3), used(quantity=-1)])),
    ("work_order", "WO-4", closed(6, day(800), [used(quantity=2)], failure={"mechanism": "E-17"})),
    ("work_order", "WO-5", closed(5, day(300), failure={"removed_at": day(300).isoformat()})),
    ("work_order", "WO-5", closed(8, day(300), [used("SPR-GONE")])),
    ("work_order", "WO-6", order(2)),
    ("parts_used", "WO-6", {"parts_used": [used("SPR-B", 4)], "updated_at": day(900, 3).isoformat()}),
    ("meter_reading", "R-1", reading(1, day(1), 100.0)),
    ("meter_reading", "R-2", reading(1, day(500), 9_000.0)),
    ("meter_reading", "R-3", reading(1, day(501), 0.0, is_reset=True)),
    ("meter_reading", "R-3", reading(2, day(501), 5.0, is_reset=True)),
    ("meter_reading", "R-4", reading(1, day(890), 6_005.0)),
]


def deliver(messages: list[tuple[str, str, dict[str, Any]]]) -> None:
    for kind, number, body in messages:
        send(number, body, kind)


def outcome_of(messages: list[tuple[str, str, dict[str, Any]]]) -> str:
    """The state that a delivery ends in, taken back afterwards."""
    with transaction.atomic():
        deliver(messages)
        found = state_hash()
        transaction.set_rollback(True)
    return found


def test_any_order_and_repetition_ends_in_the_same_state() -> None:
    place()
    expected, lot = outcome_of(MESSAGES), random.Random(SEED)
    for _ in range(SHUFFLES):
        messages = [*MESSAGES, *lot.choices(MESSAGES, k=5)]
        lot.shuffle(messages)
        assert outcome_of(messages) == expected, messages


def outcomes_without_each(messages: list[tuple[str, str, dict[str, Any]]]) -> list[str]:
    """The states that all but one of them end in, taken back afterwards; each half is delivered once for the other."""
    if len(messages) == 1:
        return [state_hash()]
    found, middle = [], len(messages) // 2
    for kept, halved in ((messages[:middle], messages[middle:]), (messages[middle:], messages[:middle])):
        with transaction.atomic():
            deliver(kept)
            found += outcomes_without_each(halved)
            transaction.set_rollback(True)
    return found


@pytest.mark.sqlite
def test_the_hash_sees_every_part_of_the_state() -> None:
    place()
    whole, without = outcome_of(MESSAGES), set(outcomes_without_each(MESSAGES))
    # Three versions are overtaken by a newer one of the same order, and leave nothing behind.
    assert whole in without
    assert len(without) > len(MESSAGES) - 6


def test_the_shuffled_set_shows_what_it_is_meant_to() -> None:
    position = place()
    deliver(MESSAGES)
    assert WorkOrder.objects.count() == 6
    assert Installation.objects.filter(position=position).count() == 5
    assert set(InboundMessage.objects.values_list("outcome", flat=True)) == {"applied", "waiting"}
    assert all(state().values())
    assert not list(replay())


def test_two_contents_of_one_version_are_decided_the_same_either_way() -> None:
    place()
    twins = [("work_order", "WO-1", order(1, title=title)) for title in ("noisy", "loose")]
    assert outcome_of(twins) == outcome_of(twins[::-1])
