"""A run from its beginning to its end: one at a time, how far it is, and what stopped it."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from inventory.models import Recommendation, RecommendationState, RunState, StockingRun
from inventory.planning.case import Case
from inventory.planning.facts import Emergencies, LeadTimes, Place
from inventory.planning.inputs import basis_of, inputs_hash
from inventory.planning.need import Need
from inventory.planning.recommend import advise
from inventory.planning.storing import RunEnded, store
from inventory.planning.world import load_world

ABANDONED_AFTER = timedelta(minutes=15)
"""A run that gave no sign of life for so long was interrupted: its process is gone."""

PLACES_AT_ONCE = 100
"""Places worked out between two signs of life."""

LONGEST_ERROR = 2_000

Progress = Callable[[int, int], None]


class RunRefused(ValueError):  # noqa: N818 - reads as the refusal it is
    """No run was begun; the sentence says what to do."""


def announce_run(*, as_of: datetime, by: str, is_full: bool = False) -> StockingRun:
    """A run that nobody has begun yet; `start_run` with the same words begins it."""
    with transaction.atomic():
        _end_abandoned(timezone.now())
        return _new_run(as_of=as_of, by=by, is_full=is_full, alive_at=None)


def start_run(*, as_of: datetime, by: str, is_full: bool = False) -> StockingRun:
    """Begin the run announced with the same words, or a new one; RunRefused while another is under way."""
    now = timezone.now()
    announced = StockingRun.objects.filter(
        state=RunState.RUNNING, alive_at=None, as_of=as_of, started_by_name=by, is_full=is_full
    )
    with transaction.atomic():
        waiting = announced.select_for_update().first()
        if waiting is not None:
            waiting.alive_at = now
            waiting.save(update_fields=["alive_at"])
            return waiting
        _end_abandoned(now)
        return _new_run(as_of=as_of, by=by, is_full=is_full, alive_at=now)


def _new_run(*, as_of: datetime, by: str, is_full: bool, alive_at: datetime | None) -> StockingRun:
    try:
        with transaction.atomic():
            return StockingRun.objects.create(
                as_of=as_of, started_by_name=by, is_full=is_full, alive_at=alive_at
            )
    except IntegrityError as error:
        other = StockingRun.objects.filter(state=RunState.RUNNING).first()
        named = f"Run {other.pk}, started by {other.started_by_name}," if other else "Another run"
        raise RunRefused(f"{named} is under way: wait for it to end, then start again.") from error


def _end_abandoned(now: datetime) -> None:
    silent = Q(alive_at__lt=now - ABANDONED_AFTER) | Q(alive_at=None, started_at__lt=now - ABANDONED_AFTER)
    StockingRun.objects.filter(silent, state=RunState.RUNNING).update(
        state=RunState.FAILED,
        finished_at=now,
        error="It was interrupted; what it had stored stands. Start another run.",
    )


@contextmanager
def failing_into(run: StockingRun) -> Iterator[None]:
    """Whatever breaks a run off is written into it, then raised on."""
    try:
        yield
    except Exception as error:
        text = f"{type(error).__name__}: {error}"[:LONGEST_ERROR]
        _end(run, RunState.FAILED, text)
        raise


def finish(run: StockingRun) -> StockingRun:
    _end(run, RunState.DONE, "")
    return run


def _end(run: StockingRun, state: RunState, error: str) -> None:
    run.state, run.error, run.finished_at = state, error, timezone.now()
    own = StockingRun.objects.filter(pk=run.pk, state=RunState.RUNNING)
    own.update(state=state, error=error, finished_at=run.finished_at, done=run.done, total=run.total)


def report(run: StockingRun, done: int, total: int) -> None:
    """How far it is; RunEnded where it was taken for abandoned meanwhile."""
    run.done, run.total, run.alive_at = done, total, timezone.now()
    own = StockingRun.objects.filter(pk=run.pk, state=RunState.RUNNING)
    if not own.update(done=done, total=total, alive_at=run.alive_at):
        raise RunEnded(f"Run {run.pk} was ended by another: start a new one.")


def carry_out(
    run: StockingRun,
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: Emergencies | None = None,
    progress: Progress | None = None,
) -> StockingRun:
    """Advise on every need whose inputs changed, on all of them in a full run, and end the run."""
    with failing_into(run):
        world = load_world(needs, lead_times=lead_times, emergencies=emergencies)
        known = _hashes()
        report(run, 0, len(needs))
        for start in range(0, len(needs), PLACES_AT_ONCE):
            cases = [world.case_of(need) for need in needs[start : start + PLACES_AT_ONCE]]
            store(run, [advise(case) for case in cases if run.is_full or _is_stale(case, known)])
            done = start + len(cases)
            report(run, done, len(needs))
            if progress is not None:
                progress(done, len(needs))
        _let_go({(need.item_id, need.storeroom_id) for need in needs})
        return finish(run)


def _hashes() -> dict[Place, str]:
    rows = Recommendation.objects.current().order_by()
    return {(item, room): known for item, room, known in rows.values_list("item", "storeroom", "inputs_hash")}


def _is_stale(case: Case, known: dict[Place, str]) -> bool:
    place = case.need.item_id, case.need.storeroom_id
    return known.get(place) != inputs_hash(basis_of(case), case.today)


def _let_go(places: set[Place]) -> None:
    """Places that nothing is worked out for any more have no current recommendation."""
    rows = Recommendation.objects.current().order_by().values_list("pk", "item", "storeroom")
    gone = [key for key, item, room in rows if (item, room) not in places]
    Recommendation.objects.filter(pk__in=gone).update(state=RecommendationState.SUPERSEDED)
