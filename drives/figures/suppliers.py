"""How many deliveries of each supplier were something else than was ordered."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from django.utils import timezone

from drives.figures.figure import Figure, FigureRow, valued
from inventory.facts import fact, fact_from_json
from inventory.models import DeliveryCheck, DeliveryOutcome
from inventory.stocking.record_accuracy import wilson_interval


class DeliveryStanding(StrEnum):
    """What a delivery counts as, after what was decided on it later."""

    RIGHT = "right"
    WRONG = "wrong"
    UNDECIDED = "undecided"


@dataclass(frozen=True)
class CountedDelivery:
    check: DeliveryCheck
    standing: DeliveryStanding


@dataclass(frozen=True)
class SupplierDeliveries:
    """`supplier` is empty for orders that name none; the wrong deliveries come first, then the undecided ones."""

    supplier: str
    deliveries: tuple[CountedDelivery, ...]

    def _count(self, standing: DeliveryStanding) -> int:
        return sum(one.standing == standing for one in self.deliveries)

    @property
    def wrong(self) -> int:
        return self._count(DeliveryStanding.WRONG)

    @property
    def undecided(self) -> int:
        return self._count(DeliveryStanding.UNDECIDED)

    @property
    def decided(self) -> int:
        return len(self.deliveries) - self.undecided

    @property
    def interval(self) -> tuple[float, float] | None:
        """Shares of wrong deliveries that these leave possible, 95 %."""
        return wilson_interval(self.wrong, self.decided) if self.decided else None


def standing_of(check: DeliveryCheck) -> DeliveryStanding | None:
    """None for one that was received and then reversed: it was booked by mistake."""
    if check.outcome == DeliveryOutcome.PASSES:
        return DeliveryStanding.RIGHT if check.received_quantity else None
    if check.received_quantity == check.quantity:
        return DeliveryStanding.RIGHT
    if check.outcome == DeliveryOutcome.SOMETHING_ELSE or check.sent_back_quantity:
        return DeliveryStanding.WRONG
    return DeliveryStanding.UNDECIDED


def counted_deliveries(
    since: datetime, until: datetime, storerooms: Collection[int] | None = None
) -> list[CountedDelivery]:
    """Checked in this time, the last first; one query."""
    checks = DeliveryCheck.objects.filter(checked_at__gte=since, checked_at__lt=until)
    if storerooms is not None:
        checks = checks.filter(storeroom_id__in=storerooms)
    rows = checks.select_related("order", "item", "storeroom").order_by("-checked_at", "-id")
    return [CountedDelivery(one, standing) for one in rows if (standing := standing_of(one)) is not None]


def suppliers(
    since: datetime, until: datetime, storerooms: Collection[int] | None = None
) -> tuple[SupplierDeliveries, ...]:
    """The supplier with the most wrong deliveries first."""
    found: dict[str, list[CountedDelivery]] = defaultdict(list)
    for one in counted_deliveries(since, until, storerooms):
        found[one.check.order.supplier].append(one)
    worst_first = (DeliveryStanding.WRONG, DeliveryStanding.UNDECIDED, DeliveryStanding.RIGHT)
    rows = [
        SupplierDeliveries(name, tuple(sorted(every, key=lambda one: worst_first.index(one.standing))))
        for name, every in found.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.wrong, -row.decided, row.supplier)))


def wrong_deliveries(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Wrong deliveries of the time, out of those decided; one query."""
    every = counted_deliveries(since, until, storerooms)
    wrong = [_row(one.check) for one in every if one.standing == DeliveryStanding.WRONG]
    undecided = sum(one.standing == DeliveryStanding.UNDECIDED for one in every)
    notes = [fact("deliveries_undecided", deliveries=undecided)] if undecided else []
    return valued(fact("figure_wrong_deliveries"), wrong, of=len(every) - undecided, notes=notes)


def _row(check: DeliveryCheck) -> FigureRow:
    order = check.order
    stated = [fact("delivered_by", supplier=order.supplier)] if order.supplier else []
    return FigureRow(
        reasons=(*stated, *(fact_from_json(one) for one in check.reasons)),
        item=check.item.stock_number,
        storeroom=check.storeroom.code,
        work_order=order.external_id,
        pieces=check.quantity,
        value=None if order.unit_price is None else order.unit_price * check.quantity,
        currency=order.currency,
        on=timezone.localdate(check.checked_at),
    )
