"""Books and machines agree: a piece is on the shelf or in a machine, never both.

Whoever fits a unit locks the stock level of its issue, as the ledger does before it reverses that issue or books a return: of
two at the same time the second sees what the first has done.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Min, Q, QuerySet, Sum

from drives.models import Installation
from inventory.facts import Fact, fact
from inventory.models import Item, MovementKind, ReasonCode, StockEntry
from inventory.plumbing.record_validation import RecordRefusal, day
from inventory.stores.deliveries import reverse_booked
from inventory.stores.ledger import Booked, Movement
from inventory.stores.ledger.booking import book
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.replay import difference
from inventory.stores.ledger.reversal import lock_current
from inventory.stores.ledger.shelf import shelves_of

SAME_JOB = timedelta(days=7)
"""A unit that came off this long before the issue, or later, belongs to the same job. Judgement of this project."""


class PieceInMachine(RecordRefusal):
    """The piece is fitted, so it cannot lie on the shelf: `installation`. Of an issue, `others` of its pieces can be reversed."""

    def __init__(self, found: Fact, installation: Installation, *, field: str, others: int = 0) -> None:
        super().__init__(found, field=field)
        self.installation, self.others = installation, others


@dataclass(frozen=True, slots=True)
class PiecesOfJob:
    """Pieces of an item for one work order, or for one position where no work order is named."""

    item: Item
    work_order: str
    position: str

    def issues(self) -> QuerySet[Any]:
        return self._own(StockEntry.objects.issues())

    def out(self) -> int | None:
        """Pieces that were issued and are neither returned nor fitted; None where nothing was issued for the job."""
        issues, units = self.issues(), Installation.objects.filter(item=self.item)
        issued = issues.aggregate(total=Sum("net"), first=Min("occurred_at"))
        if issued["total"] is None:
            return None
        own = Q(stock_entry__in=issues.values("pk"))
        fitted = list(units.still_fitted().filter(own).values_list("position__tag", flat=True))
        places = {*fitted, self.position} - {""}
        came_off = Q(position__tag__in=places, removed_at__gte=issued["first"] - SAME_JOB)
        if self.work_order:
            came_off |= Q(work_order=self.work_order)
        removed = units.filter(came_off, removed_at__isnull=False).exclude(own).count()
        return -int(issued["total"]) - self._returned() - len(fitted) + removed

    def fitted_unit(self) -> Installation | None:
        units = Installation.objects.with_parts().still_fitted()
        return units.filter(item=self.item, stock_entry__in=self.issues().values("pk")).first()

    def _returned(self) -> int:
        rows = self._own(
            StockEntry.objects.filter(kind=MovementKind.RETURN).exclude(reason_code=ReasonCode.WORN)
        )
        return int(rows.aggregate(total=Sum("net", default=0))["total"])

    def _own(self, entries: Any) -> QuerySet[Any]:
        rows: QuerySet[Any] = entries.not_reversed().of_item(self.item).order_by()
        if self.work_order:
            return rows.filter(work_order=self.work_order)
        return rows.filter(position=self.position) if self.position else rows.none()


def job_of(row: StockEntry | Movement) -> PiecesOfJob:
    return PiecesOfJob(row.item, row.work_order, row.position)


def lock_levels(rows: Sequence[Any]) -> None:
    """Lock the stock levels of these entries and movements, as the ledger does."""
    lock_shelves(shelves_of(rows))


def reverse_movement(entry: StockEntry, *, quantity: int | None = None, **how: Any) -> Booked:
    """Reverse a movement; the piece of an issue that is in a machine stays issued."""
    with transaction.atomic():
        if entry.kind == MovementKind.ISSUE and entry.reverses_id is None:
            lock_current(entry.item)
            lock_levels([entry])
            _refuse_fitted(entry, quantity)
        return reverse_booked(entry, quantity=quantity, **how)


def book_return(movement: Movement) -> Booked:
    """Book a return, unless all pieces that the job has out are fitted."""
    job = job_of(movement)
    with transaction.atomic():
        issues = list(job.issues().select_related("item", "storeroom"))
        if issues and movement.reason_code != ReasonCode.WORN and not is_booked(movement):
            lock_levels([*issues, movement])
            _refuse_return_of_fitted(job, movement)
        return book(movement)


def refuse_returned_issue(entry: StockEntry) -> Fact | None:
    """Why the unit of this issue cannot be fitted, as its piece is back on the shelf; the level is locked."""
    left = StockEntry.objects.with_net().get(pk=entry.pk)
    if not left.net:
        return fact("issue_was_reversed", movement=entry.pk)
    out = job_of(entry).out()
    return fact("issue_was_returned", movement=entry.pk) if out is not None and out < 1 else None


def refuse_issue_of_fitted(prefix: str) -> None:
    """Refuse what reversed an issue of these references while its unit is fitted."""
    entries = StockEntry.objects.filter(reference__startswith=f"{prefix}:", kind=MovementKind.ISSUE)
    fitted = entries.filter(installation__isnull=False, installation__removed_at__isnull=True)
    entry = fitted.with_net().filter(net__gte=0).first()
    if entry is not None:
        unit = Installation.objects.with_parts().get(stock_entry=entry)
        raise PieceInMachine(
            fact("issue_unit_fitted", movement=entry.pk, **_where(unit)), unit, field="parts_used"
        )


def differences(item: Item | None = None) -> tuple[Fact, ...]:
    """Every fitted unit that the books have on the shelf, or know as another item."""
    units = Installation.objects.still_fitted().filter(stock_entry__isnull=False).order_by("pk")
    if item is not None:
        units = units.filter(stock_entry__item=item)
    related = ("position", "item", "stock_entry__item", "stock_entry__storeroom")
    return tuple(_differences_of(units.select_related(*related)))


def _differences_of(units: QuerySet[Installation]) -> Iterator[Fact]:
    entries = StockEntry.objects.filter(pk__in=units.values("stock_entry"))
    left = dict(entries.with_net().values_list("pk", "net"))
    short: set[PiecesOfJob] = set()
    for unit in units:
        entry = unit.stock_entry
        assert entry is not None
        job = job_of(entry)
        if entry.kind != MovementKind.ISSUE or unit.item_id not in (None, entry.item_id):
            yield _at("fitted_unit_not_of_issue", unit, entry, 0)
        elif left[entry.pk] >= 0:
            yield _at("fitted_unit_on_shelf", unit, entry, 0)
        elif job not in short and (out := job.out()) is not None and out < 0:
            short.add(job)
            yield _at("fitted_unit_returned", unit, entry, out + 1)


def _at(code: str, unit: Installation, entry: StockEntry, out: int) -> Fact:
    place = (entry.item.stock_number, entry.storeroom.code, entry.condition)
    return difference(code, place, booked=out, found=1, entry=entry.pk, position=unit.position.tag)


def _refuse_fitted(entry: StockEntry, quantity: int | None) -> None:
    unit = Installation.objects.with_parts().still_fitted().filter(stock_entry=entry).first()
    if unit is None:
        return
    left = -StockEntry.objects.with_net().get(pk=entry.pk).net
    if quantity is None or quantity >= left:
        found = fact("issue_unit_fitted", movement=entry.pk, **_where(unit))
        if left > 1:
            found = fact("issue_partly_fitted", movement=entry.pk, left=left, others=left - 1, **_where(unit))
        raise PieceInMachine(found, unit, field="quantity" if left > 1 else "entry", others=left - 1)


def _refuse_return_of_fitted(job: PiecesOfJob, movement: Movement) -> None:
    unit, out = job.fitted_unit(), job.out()
    if unit is not None and out is not None and (movement.quantity or 0) > out:
        found = fact("returned_unit_fitted", item=movement.item.stock_number, **_where(unit))
        raise PieceInMachine(found, unit, field="quantity")


def _where(unit: Installation) -> dict[str, str]:
    return {"position": unit.position.tag, "installed_on": day(unit.installed_at)}


def is_booked(movement: Movement) -> bool:
    """Whether its reference was booked before."""
    known = {"reference": movement.reference, "storeroom": movement.storeroom}
    return bool(movement.reference) and StockEntry.objects.filter(**known).exists()
