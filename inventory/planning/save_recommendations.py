"""Writes advice as rows: what is new replaces what stood, and says what changed."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.catalogue.plant_practice import current_demand_settings
from inventory.facts import fact
from inventory.models import Recommendation, RecommendationState, StockingRun
from inventory.planning.inputs_hash import changed_inputs, inputs_hash
from inventory.planning.policy_inputs import ItemStoreroom, levels_fact, levels_from_json, levels_of
from inventory.plumbing.many_rows import insert_records

COMPARED = ("changed", "today", "explanation", "evidence")
"""What a recommendation that waits for its decision says in addition to its figures."""

DECISION = ("state", "decided_by_name", "decided_at", "decision_reason")
ROW = ("id", "created_at", "updated_at", "run", "item", "storeroom", "inputs_hash", "since_last")
FIGURES = tuple(
    column.name
    for column in Recommendation._meta.concrete_fields
    if column.name not in (*COMPARED, *DECISION, *ROW)
)
"""What was calculated, without the comparison with the policy in force."""


class RunEnded(RuntimeError):  # noqa: N818 - reads as what happened
    """The run no longer counts: another one may have taken its place."""


def save_recommendations(
    run: StockingRun, advices: Sequence[Recommendation], *, loaded_at: datetime | None = None
) -> None:
    """Write what differs from the current rows; a decision whose inputs did not change stays decided.

    `loaded_at`: when what the advice is made from was read; None: when the run started.
    """
    if not advices:
        return
    with transaction.atomic(savepoint=False):
        _lock(run)
        current = _current(advices)
        rows = [(advice, current.get((advice.item_id, advice.storeroom_id))) for advice in advices]
        drift = current_demand_settings().decision_drift
        since = loaded_at or run.started_at
        fresh = [(advice, row) for advice, row in rows if not _stands(row, advice, since)]
        replaced = [row.pk for _, row in fresh if row is not None]
        now = timezone.now()
        Recommendation.objects.filter(pk__in=replaced).update(
            state=RecommendationState.SUPERSEDED, updated_at=now
        )
        insert_records(Recommendation, [_row(run, advice, row, drift) for advice, row in fresh])
        run.recomputed += len(advices)
        run.changed += sum(advice.changed for advice, _ in fresh)
        run.save(update_fields=["recomputed", "changed"])


def _lock(run: StockingRun) -> None:
    state = StockingRun.objects.select_for_update().values_list("state", flat=True).get(pk=run.pk)
    if state != run.state:
        raise RunEnded(f"run {run.pk} was ended by another one: start a new run")


def _current(advices: Sequence[Recommendation]) -> dict[ItemStoreroom, Recommendation]:
    """The current rows, locked to the end of the transaction in the order of their keys."""
    rows = Recommendation.objects.current().filter(item__in={advice.item_id for advice in advices})
    return {(row.item_id, row.storeroom_id): row for row in rows.order_by("pk").select_for_update()}


def _stands(row: Recommendation | None, advice: Recommendation, since: datetime) -> bool:
    if row is None:
        return False
    if row.decided_at is not None and row.decided_at >= since:
        return True  # Decided meanwhile: this advice does not know of it, the next one will.
    if row.inputs_hash != advice.inputs_hash:
        return False
    compared = FIGURES + (COMPARED if row.state == RecommendationState.OPEN else ())
    return all(getattr(row, name) == getattr(advice, name) for name in compared)


def _row(
    run: StockingRun, advice: Recommendation, before: Recommendation | None, drift: float
) -> Recommendation:
    advice.run = run
    if before is not None:
        advice.since_last = _since(before, advice)
        if _has_only_drifted(before, advice, drift):
            for name in DECISION:
                setattr(advice, name, getattr(before, name))
    return advice


def _has_only_drifted(before: Recommendation, advice: Recommendation, drift: float) -> bool:
    """Only days went by: whoever decided on these levels is not asked again."""
    if before.state == RecommendationState.OPEN or levels_of(before) != levels_of(advice):
        return False
    old, new = before.evidence.get("inputs", {}), advice.evidence["inputs"]
    named = [name for name in new if name not in ("rate_per_year", "policy")]
    if any(old.get(name) != new[name] for name in named) or not _policy_stands(before, advice):
        return False
    return abs(advice.rate_per_year - before.rate_per_year) <= drift * before.rate_per_year


def _policy_stands(before: Recommendation, advice: Recommendation) -> bool:
    """Nobody has set other levels since the decision."""
    in_force = levels_from_json(advice.today)
    return inputs_hash(before.evidence["basis"], in_force) == before.inputs_hash


def _since(before: Recommendation, advice: Recommendation) -> list[Any]:
    """Which inputs changed, and what that did to the levels."""
    changed = changed_inputs(before.evidence.get("inputs", {}), advice.evidence["inputs"])
    if not changed:
        is_other = before.evidence.get("basis") != advice.evidence["basis"]
        changed = (fact("records_changed" if is_other else "calculated_again"),)
    old, new = levels_of(before), levels_of(advice)
    levels = (
        fact("advice_unchanged", levels=levels_fact(new))
        if old == new
        else fact("advice_changed", before=levels_fact(old), after=levels_fact(new))
    )
    return [one.as_json() for one in (*changed, levels)]
