"""Runs: one at a time, with their progress and what stopped them."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from inventory.facts import Fact, Refusal, fact
from inventory.models import Recommendation, RecommendationState, RunState, StockingRun
from inventory.planning.inputs_hash import basis_of, inputs_hash
from inventory.planning.policy_inputs import ItemStoreroom, Need, RecommendationInput, load_policy_inputs
from inventory.planning.recommend import recommend
from inventory.planning.save_recommendations import RunEnded, save_recommendations
from inventory.progress import Progress, unreported
from inventory.stores.lead_times import EmergencyTimes, LeadTimes

ABANDONED_AFTER = timedelta(minutes=15)
"""A run that gave no sign of life for so long was interrupted: its process is gone."""

NEEDS_AT_ONCE = 100
"""Items in storerooms that are calculated between two signs of life."""

LONGEST_ERROR = 2_000


class RunRefused(Refusal):
    """No run was started."""


def announce_run(*, as_of: datetime, by: str, is_full: bool = False) -> StockingRun:
    """A run that has not started yet; `start_run` with the same values starts it."""
    with transaction.atomic():
        _end_abandoned(timezone.now())
        return _new_run(as_of=as_of, by=by, is_full=is_full, alive_at=None)


def start_run(*, as_of: datetime, by: str, is_full: bool = False) -> StockingRun:
    """Start the run announced with the same values, or a new one; RunRefused while another is under way."""
    now = timezone.now()
    announced = StockingRun.objects.filter(
        state=RunState.RUNNING, alive_at=None, as_of=as_of, started_by_name=by, is_full=is_full
    )
    with transaction.atomic():
        waiting = announced.select_for_update().first()
        if waiting is not None:
            waiting.alive_at, waiting.followed_until = now, min(as_of, now)
            waiting.save(update_fields=["alive_at", "followed_until"])
            return waiting
        _end_abandoned(now)
        return _new_run(as_of=as_of, by=by, is_full=is_full, alive_at=now)


def _new_run(*, as_of: datetime, by: str, is_full: bool, alive_at: datetime | None) -> StockingRun:
    try:
        with transaction.atomic():
            # Whoever writes into the results of the last run ends before the next one begins.
            StockingRun.objects.select_for_update().first()
            return StockingRun.objects.create(
                as_of=as_of,
                started_by_name=by,
                is_full=is_full,
                alive_at=alive_at,
                followed_until=alive_at and min(as_of, alive_at),
            )
    except IntegrityError as error:
        other = StockingRun.objects.filter(state=RunState.RUNNING).first()
        raise RunRefused(
            fact("run_under_way", run=other.pk, started_by=other.started_by_name)
            if other
            else fact("other_run_under_way")
        ) from error


def _end_abandoned(now: datetime) -> None:
    silent = Q(alive_at__lt=now - ABANDONED_AFTER) | Q(alive_at=None, started_at__lt=now - ABANDONED_AFTER)
    StockingRun.objects.filter(silent, state=RunState.RUNNING).update(state=RunState.FAILED, finished_at=now)


def failure_of(run: StockingRun) -> Fact | None:
    """Why a run failed; one that left no error was interrupted."""
    if run.state != RunState.FAILED:
        return None
    return fact("run_failed", message=run.error) if run.error else fact("run_interrupted")


def reset_run(run: StockingRun) -> None:
    """Let a run whose process is gone start again: `start_run` with its values starts it."""
    StockingRun.objects.filter(pk=run.pk, state=RunState.RUNNING).update(alive_at=None, done=0, total=0)


def interrupt_run(run: StockingRun) -> None:
    _end(run, RunState.FAILED, "")


@contextmanager
def failing_into(run: StockingRun) -> Iterator[None]:
    """Whatever stops a run is written into it, then raised again."""
    try:
        yield
    except Exception as error:
        _end(run, RunState.FAILED, f"{type(error).__name__}: {error}"[:LONGEST_ERROR])
        raise


def _end(run: StockingRun, state: RunState, error: str) -> None:
    run.state, run.error, run.finished_at = state, error, timezone.now()
    own = StockingRun.objects.filter(pk=run.pk, state=RunState.RUNNING)
    own.update(state=state, error=error, finished_at=run.finished_at, done=run.done, total=run.total)


def report(run: StockingRun, done: int, total: int) -> None:
    """Store the progress; RunEnded where another run has taken this one for abandoned."""
    run.done, run.total, run.alive_at = done, total, timezone.now()
    own = StockingRun.objects.filter(pk=run.pk, state=RunState.RUNNING)
    if not own.update(done=done, total=total, alive_at=run.alive_at):
        raise RunEnded(f"run {run.pk} was ended by another one: start a new run")


def has_changed(run: StockingRun, digest: str) -> bool:
    """Whether a run has anything to do; False ends it. `digest` is kept, so that the next run can tell.

    What the last run left has to stand whole: one that failed may have left half of its results.
    """
    run.inputs_digest = digest
    StockingRun.objects.filter(pk=run.pk).update(inputs_digest=digest)
    last = StockingRun.objects.exclude(pk=run.pk).first()
    if run.is_full or last is None or last.state != RunState.DONE or last.inputs_digest != digest:
        return True
    if Recommendation.objects.current().count() != last.total:
        return True
    keep_lent_times(run, last.lent_times)
    report(run, last.total, last.total)
    _end(run, RunState.DONE, "")
    return False


def keep_lent_times(run: StockingRun, lent: dict[str, Any]) -> None:
    """For whoever follows what is recorded until the next run."""
    run.lent_times = lent
    run.save(update_fields=["lent_times"])


def carry_out(
    run: StockingRun,
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: EmergencyTimes | None = None,
    progress: Progress = unreported,
) -> StockingRun:
    """Advise on every need whose inputs changed, on all of them in a full run, and end the run."""
    with failing_into(run):
        inputs = load_policy_inputs(needs, lead_times=lead_times, emergencies=emergencies)
        known = _hashes(Recommendation.objects.current())
        report(run, 0, len(needs))
        for start in range(0, len(needs), NEEDS_AT_ONCE):
            given = [inputs.of(need) for need in needs[start : start + NEEDS_AT_ONCE]]
            stale = [one for one in given if run.is_full or _is_stale(one, known)]
            save_recommendations(run, [recommend(one) for one in stale])
            done = start + len(given)
            report(run, done, len(needs))
            progress(done, len(needs))
        _supersede_all_but(needs, Recommendation.objects.current())
        _end(run, RunState.DONE, "")
        return run


def last_run() -> StockingRun | None:
    """Locked to the end of the transaction, so that no other begins; None unless its results stand whole."""
    run = StockingRun.objects.select_for_update().first()
    return run if run is not None and run.state == RunState.DONE else None


def leave_to_next_run() -> None:
    """Say that something was recorded that nobody follows before the next run."""
    newest = StockingRun.objects.order_by("-id").values("id")[:1]
    StockingRun.objects.filter(pk__in=newest).update(is_behind=True)


def follow_with(
    run: StockingRun,
    needs: Sequence[Need],
    items: Collection[int],
    *,
    lead_times: LeadTimes,
    emergencies: EmergencyTimes,
    loaded_at: datetime,
) -> None:
    """Advise again on some items, in the results of a run that is done; `needs` are all of them."""
    inputs = load_policy_inputs(needs, lead_times=lead_times, emergencies=emergencies, items=items)
    known = _hashes(Recommendation.objects.current().filter(item__in=items))
    given = [inputs.of(need) for need in needs]
    stale = [one for one in given if _is_stale(one, known)]
    save_recommendations(run, [recommend(one) for one in stale], loaded_at=loaded_at)
    if known.keys() - {(need.item_id, need.storeroom_id) for need in needs}:
        _supersede_all_but(needs, Recommendation.objects.current().filter(item__in=items))


def _hashes(current: QuerySet[Recommendation]) -> dict[ItemStoreroom, str]:
    rows = current.order_by().values_list("item", "storeroom", "inputs_hash")
    return {(item, room): known for item, room, known in rows}


def _is_stale(given: RecommendationInput, known: dict[ItemStoreroom, str]) -> bool:
    key = given.need.item_id, given.need.storeroom_id
    return known.get(key) != inputs_hash(basis_of(given), given.today)


def _supersede_all_but(needs: Iterable[Need], current: QuerySet[Recommendation]) -> None:
    """What has no need any more has no current recommendation."""
    kept = {(need.item_id, need.storeroom_id) for need in needs}
    rows = current.order_by().values_list("pk", "item", "storeroom")
    gone = [key for key, item, room in rows if (item, room) not in kept]
    Recommendation.objects.filter(pk__in=gone).update(state=RecommendationState.SUPERSEDED)
