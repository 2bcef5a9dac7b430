"""The only writer of kits: the parts of one job, all reserved or none, and where they are staged."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.facts import fact
from inventory.models import Kit, KitState, Storeroom
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import RecordRefusal, refuse_unsound_columns
from inventory.stores.ledger.movement import Who, name_of
from inventory.stores.ledger.reservations import ReservationLine, release_together, reserve_together

OLD_AFTER_DAYS = 90
"""An unused kit goes back to the shelf after this: trade practice for kits that were charged out and not used."""


class KitRefusal(RecordRefusal):
    pass


class KitExists(KitRefusal):
    """The job has a kit in that storeroom already: `kit`."""

    def __init__(self, kit: Kit) -> None:
        found = fact("kit_exists", work_order=kit.work_order, storeroom=kit.storeroom.code, kit=kit.pk)
        super().__init__(found, field="work_order")
        self.kit = kit


class KitEnded(KitRefusal):
    def __init__(self, kit: Kit) -> None:
        super().__init__(fact("kit_ended", work_order=kit.work_order, state=str(kit.state)), field="kit")


def make(
    work_order: str,
    storeroom: Storeroom,
    lines: Sequence[ReservationLine],
    *,
    by: Who,
    needed_by: date | None = None,
    place: str = "",
    at: datetime | None = None,
) -> Kit:
    """Reserve every line for the job, or none; raises LineRefused for the first that cannot be reserved."""
    now = at or timezone.now()
    kit = Kit(
        work_order=work_order, storeroom=storeroom, needed_by=needed_by, place=place, made_by_name=name_of(by)
    )
    if not work_order.strip():
        raise KitRefusal(fact("kit_without_work_order"), field="work_order")
    if not lines:
        raise KitRefusal(fact("kit_without_lines"), field="lines")
    refuse_unsound_columns(kit)
    with transaction.atomic():
        _insert(kit)
        reserve_together(lines, storeroom, work_order=work_order, by=by, kit=kit, at=now)
        _publish("made", kit, now)
    return kit


def stage(kit: Kit, *, place: str = "", at: datetime | None = None) -> Kit:
    """Record where the parts are staged, or that they were moved to another place."""
    now = at or timezone.now()
    with transaction.atomic():
        current = Kit.objects.select_for_update().get(pk=kit.pk)
        if current.state not in (KitState.OPEN, KitState.STAGED):
            raise KitEnded(current)
        current.state, current.place = KitState.STAGED, place or current.place
        current.staged_at = current.staged_at or now
        current.save(update_fields=["state", "place", "staged_at", "updated_at"])
        _publish("staged", current, now)
    return current


def release(kit: Kit, *, at: datetime | None = None) -> Kit:
    """Release what was not used: it is available again."""
    now = at or timezone.now()
    with transaction.atomic():
        # The lines are released through their levels, which are locked first; the kit's own row follows in `close_kits`.
        lines = list(kit.lines.select_related("item", "storeroom").order_by("pk"))
        if not release_together(lines, at=now):
            kit.refresh_from_db()
            raise KitEnded(kit)
        ended = Kit.objects.select_related("storeroom").get(pk=kit.pk)
        _publish("released", ended, now)
    return ended


def old_before(moment: datetime) -> date:
    """Kits made before this day are old."""
    return (moment - timedelta(days=OLD_AFTER_DAYS)).date()


def _insert(kit: Kit) -> None:
    try:
        with transaction.atomic():
            kit.save(force_insert=True)
    except IntegrityError as error:
        # The database holds one open kit for a job and storeroom; the savepoint keeps the outer transaction usable.
        alive = Kit.objects.alive().filter(work_order=kit.work_order, storeroom=kit.storeroom).first()
        if alive is None:
            raise
        raise KitExists(alive) from error


def _publish(what: str, kit: Kit, at: datetime) -> None:
    record(
        f"kit.{what}",
        aggregate=f"kit/{kit.pk}",
        occurred_at=at,
        storeroom=kit.storeroom.code,
        data={"kit": kit.pk, "work_order": kit.work_order, "place": kit.place, "state": str(kit.state)},
    )
