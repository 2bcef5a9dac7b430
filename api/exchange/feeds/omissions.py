"""Senders that say by leaving out: what is not in their list any more is closed, cancelled or retracted."""

from collections.abc import Iterable

from django.utils import timezone

from api.exchange.mapping.mapped_file import Remembered
from drives.feed.intake import take_in
from drives.feed.stored_messages import METER_READING, WORK_ORDER, versions
from drives.models import MeterReading, WorkOrder, WorkOrderStatus
from inventory.facts import Fact, fact

ALWAYS_ALLOWED = 5
MOST_SHARE = 0.5
"""A list that lacks more than this is rather cut off than true."""
WORDS = {"work-orders": ("closed", "cancelled"), "meter-readings": ("retracted",)}


def settle_omitted(
    kind: str, known: Remembered, listed: tuple[tuple[str, str], ...] | None
) -> tuple[Fact, ...]:
    word = known.answers["omitted"]
    if word not in WORDS.get(kind, ()):
        return (fact("omission_not_possible", kind=kind, answer=word),)
    if not listed:
        return (fact("omission_without_numbers"),)
    source = listed[0][0]
    numbers = {number for _, number in listed}
    standing = standing_of(kind, source)
    gone = [number for number in standing if number not in numbers]
    if len(gone) > max(ALWAYS_ALLOWED, MOST_SHARE * len(standing)):
        return (fact("too_many_omitted", count=len(gone), of=len(standing)),)
    settle(kind, source, gone, word)
    return (fact("omitted_settled", count=len(gone), word=word),) if gone else ()


def standing_of(kind: str, source: str) -> list[str]:
    if kind == "work-orders":
        rows = WorkOrder.objects.filter(source=source, status=WorkOrderStatus.OPEN)
        return list(rows.order_by("external_id").values_list("external_id", flat=True))
    readings = MeterReading.objects.filter(source=source, retracted_at=None)
    return list(readings.order_by("external_id").values_list("external_id", flat=True))


def settle(kind: str, source: str, numbers: Iterable[str], word: str) -> None:
    now = timezone.now().isoformat()
    feed_kind = WORK_ORDER if kind == "work-orders" else METER_READING
    for number in numbers:
        newest = versions(feed_kind, source, number).first()
        if newest is None:
            continue
        end: dict[str, object] = {"retracted": True} if word == "retracted" else {"status": word}
        if word == "closed" and not newest.body.get("closed_at"):
            end["closed_at"] = now
        take_in(feed_kind, source, number, {**newest.body, **end, "updated_at": now})
