"""What an order says was issued and fitted keeps its verdict, and is never refused because of it."""

from typing import Any

import pytest

from drives.models import Installation, MessageOutcome, Plant, Position, RecordedVerdict
from inventory.models import Event
from tests import factories as make
from tests.drives.feed.messages import closed, day, order, place, send, used

pytestmark = pytest.mark.django_db


def stocked(number: str, **part: Any) -> None:
    item = make.ItemFactory(stock_number=number, specification=make.SprocketFactory(**part))
    make.stock(item, make.StoreroomFactory(), 5, occurred_at=day(-1))


def grades() -> list[tuple[str, bool, str]]:
    rows = RecordedVerdict.objects.order_by("pk")
    return [(str(row.item), row.entry_id is not None, row.grade) for row in rows]


@pytest.mark.parametrize("setting", ["not_needed", "may_follow", "before_fitting"])
def test_an_unfit_part_is_booked_and_fitted_with_its_verdict(setting: str) -> None:
    place()
    Plant.objects.update(substitute_approval=setting)
    stocked("SPR-WIDE", bore_mm=30, max_bore_mm=None)
    taken = send("WO-1", closed(3, day(700), [used("SPR-WIDE")]))
    assert taken.outcome == MessageOutcome.APPLIED
    assert grades() == [("SPR-WIDE", True, "unfit"), ("SPR-WIDE", False, "unfit")]
    unit = Installation.objects.still_fitted().get()
    assert unit.awaits_approval == (setting != "not_needed")
    assert Event.objects.filter(type="substitution.awaits_approval").exists() == unit.awaits_approval


def test_the_unit_before_says_what_was_required_and_not_the_one_fitted() -> None:
    place()
    Position.objects.update(teeth=None)
    stocked("SPR-19", teeth=19)
    send("WO-1", closed(3, day(700), [used("SPR-19")]))
    send("WO-2", closed(3, day(800), [used("SPR-19")]))
    assert [grade for _, _, grade in grades()] == ["unfit", "unfit", "drop_in", "drop_in"]


def test_a_correction_to_another_part_has_the_verdict_of_that_part() -> None:
    place()
    Plant.objects.update(substitute_approval="may_follow")
    stocked("SPR-WIDE", bore_mm=30, max_bore_mm=None)
    send("WO-1", closed(3, day(700), [used("SPR-WIDE")]))
    send("WO-1", closed(5, day(700), [used("SPR-B")]))
    assert grades() == [("SPR-WIDE", True, "unfit"), ("SPR-B", True, "drop_in"), ("SPR-B", False, "drop_in")]
    assert not Installation.objects.still_fitted().get().awaits_approval


def test_a_late_order_leaves_the_verdicts_of_then_as_they_are() -> None:
    place()
    stocked("SPR-WIDE", bore_mm=30, max_bore_mm=None)
    send("WO-2", closed(3, day(700), [used("SPR-B")]))
    before = list(RecordedVerdict.objects.values())
    send("WO-1", closed(5, day(60), [used("SPR-WIDE")]))
    assert list(RecordedVerdict.objects.values())[-2:] == before
    send("WO-1", order(6, status="cancelled"))
    assert RecordedVerdict.objects.filter(installation__isnull=False).count() == 1


def test_chain_of_an_order_has_the_verdict_of_the_chain_of_the_drive() -> None:
    place()
    for number, chain in (("CHN-OWN", "08B"), ("CHN-OTHER", "10B")):
        part = make.ChainFactory(chain_designation=chain)
        item = make.ItemFactory(stock_number=number, specification=part)
        make.stock(item, make.StoreroomFactory(), 5, occurred_at=day(-1))
        taken = send(f"WO-{number}", closed(3, day(700), [used(number)]))
        assert taken.outcome == MessageOutcome.APPLIED
    assert grades() == [("CHN-OWN", True, "drop_in"), ("CHN-OTHER", True, "unfit")]
