"""The only writer of kits: the parts of one job, held back together or not at all, and where they stand."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import Kit, KitState, Storeroom
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import RecordRefusal, refuse_unsound_columns
from inventory.stores.ledger.movement import Who, name_of
from inventory.stores.ledger.reservations import Line, release_together, reserve_together

OLD_AFTER_DAYS = 90
"""A kit that nobody used by then goes back to the shelf: trade practice for kits that were charged out and not used."""


class KitRefusal(RecordRefusal):
    pass


class KitStands(KitRefusal):
    """The job has a kit in that storeroom: `kit`."""

    def __init__(self, kit: Kit) -> None:
        super().__init__(
            "work_order", f"{kit.work_order} has a kit in {kit.storeroom} already: use that one."
        )
        self.kit = kit


class KitEnded(KitRefusal):
    def __init__(self, kit: Kit) -> None:
        super().__init__("kit", f"The kit of {kit.work_order} has ended already: it is {kit.state}.")


def make(
    work_order: str,
    storeroom: Storeroom,
    lines: Sequence[Line],
    *,
    by: Who,
    needed_by: date | None = None,
    place: str = "",
    at: datetime | None = None,
) -> Kit:
    """Hold back every line for the job, or nothing; raises LineRefused for the first that cannot be."""
    now = at or timezone.now()
    kit = Kit(
        work_order=work_order, storeroom=storeroom, needed_by=needed_by, place=place, made_by_name=name_of(by)
    )
    if not work_order.strip():
        raise KitRefusal("work_order", "Say for which job the parts are: give work_order.")
    if not lines:
        raise KitRefusal("lines", "A kit has at least one line.")
    refuse_unsound_columns(kit)
    with transaction.atomic():
        _insert(kit)
        reserve_together(lines, storeroom, work_order=work_order, by=by, kit=kit, at=now)
        _tell("made", kit, now)
    return kit


def stage(kit: Kit, *, place: str = "", at: datetime | None = None) -> Kit:
    """The parts stand together at a place; done again, they were moved to another."""
    now = at or timezone.now()
    with transaction.atomic():
        standing = Kit.objects.select_for_update().get(pk=kit.pk)
        if standing.state not in (KitState.OPEN, KitState.STAGED):
            raise KitEnded(standing)
        standing.state, standing.place = KitState.STAGED, place or standing.place
        standing.staged_at = standing.staged_at or now
        standing.save(update_fields=["state", "place", "staged_at", "updated_at"])
        _tell("staged", standing, now)
    return standing


def release(kit: Kit, *, at: datetime | None = None) -> Kit:
    """Put back what was not used: what the kit still holds is free again."""
    now = at or timezone.now()
    with transaction.atomic():
        lines = list(kit.lines.select_related("item", "storeroom").order_by("pk"))
        if not release_together(lines, at=now):
            kit.refresh_from_db()
            raise KitEnded(kit)
        ended = Kit.objects.select_related("storeroom").get(pk=kit.pk)
        _tell("released", ended, now)
    return ended


def old_before(moment: datetime) -> date:
    """Kits made before this day have grown old."""
    return (moment - timedelta(days=OLD_AFTER_DAYS)).date()


def _insert(kit: Kit) -> None:
    try:
        with transaction.atomic():
            kit.save(force_insert=True)
    except IntegrityError as error:
        alive = Kit.objects.alive().filter(work_order=kit.work_order, storeroom=kit.storeroom).first()
        if alive is None:
            raise
        raise KitStands(alive) from error


def _tell(what: str, kit: Kit, at: datetime) -> None:
    record(
        f"kit.{what}",
        aggregate=f"kit/{kit.pk}",
        occurred_at=at,
        storeroom=kit.storeroom.code,
        data={"kit": kit.pk, "work_order": kit.work_order, "place": kit.place, "state": str(kit.state)},
    )
