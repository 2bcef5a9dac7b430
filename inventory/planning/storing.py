"""Advice to rows: what is new takes the place of what stood, and says what changed."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.models import Recommendation, RecommendationState, RunState, StockingRun
from inventory.planning.facts import Place, levels_in, levels_of
from inventory.planning.inputs import changes, inputs_hash
from inventory.planning.recommend import Advice
from inventory.planning.words import short_levels

FIGURES = (
    "is_answered",
    "stocked",
    "reorder_point",
    "order_up_to",
    "importance",
    "model",
    "target_kind",
    "target_value",
    "rate_per_year",
    "planned_per_year",
    "lead_time_days",
    "lead_time_sd_days",
    "expected_lead_time_demand",
    "fill_rate",
    "expected_stockouts_per_year",
    "holding_cost_per_year",
    "currency",
    "review_after_days",
)
"""What was worked out, the comparison with the policy in force apart."""

COMPARED = ("changed", "today", "explanation", "evidence")
"""What a recommendation that waits for its decision says besides."""


DRIFT = 0.1
"""Relative change of the yearly demand that the mere passing of days may bring: start value, no source."""

DECIDED = (RecommendationState.ACCEPTED, RecommendationState.AMENDED, RecommendationState.DECLINED)


class RunEnded(RuntimeError):  # noqa: N818 - reads as what happened
    """The run no longer goes: another one may have taken its place."""


def store(run: StockingRun, advices: Sequence[Advice]) -> None:
    """Write what differs from what stands; a decision whose inputs did not change stays decided."""
    if not advices:
        return
    with transaction.atomic():
        _hold(run)
        standing = _standing(advices)
        fresh = [
            (advice, standing.get(_place(advice)))
            for advice in advices
            if not _stands(standing.get(_place(advice)), advice, run)
        ]
        replaced = [row.pk for _, row in fresh if row is not None]
        now = timezone.now()
        Recommendation.objects.filter(pk__in=replaced).update(
            state=RecommendationState.SUPERSEDED, updated_at=now
        )
        Recommendation.objects.bulk_create([_row(run, advice, row) for advice, row in fresh])
        run.recomputed += len(advices)
        run.changed += sum(advice.changed for advice, _ in fresh)
        run.save(update_fields=["recomputed", "changed"])


def _hold(run: StockingRun) -> None:
    state = StockingRun.objects.select_for_update().values_list("state", flat=True).get(pk=run.pk)
    if state != RunState.RUNNING:
        raise RunEnded(f"Run {run.pk} was ended by another: start a new one.")


def _place(advice: Advice) -> Place:
    return advice.item_id, advice.storeroom_id


def _standing(advices: Sequence[Advice]) -> dict[Place, Recommendation]:
    """The current rows of these places, held to the end of the transaction."""
    rows = Recommendation.objects.current().filter(item__in={advice.item_id for advice in advices})
    return {(row.item_id, row.storeroom_id): row for row in rows.order_by("pk").select_for_update()}


def _stands(row: Recommendation | None, advice: Advice, run: StockingRun) -> bool:
    if row is None:
        return False
    if row.decided_at is not None and row.decided_at >= run.started_at:
        return True  # Decided while the run went: the advice knows nothing of it, the next one will.
    if row.inputs_hash != advice.inputs_hash:
        return False
    compared = FIGURES + (COMPARED if row.state == RecommendationState.OPEN else ())
    return all(getattr(row, name) == _plain(getattr(advice, name)) for name in compared)


def _plain(value: Any) -> Any:
    """As JSON gives it back."""
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {str(name): _plain(one) for name, one in value.items()}
    return value


def _row(run: StockingRun, advice: Advice, before: Recommendation | None) -> Recommendation:
    values = {name: _plain(getattr(advice, name)) for name in (*FIGURES, *COMPARED)}
    return Recommendation(
        run=run,
        item_id=advice.item_id,
        storeroom_id=advice.storeroom_id,
        inputs_hash=advice.inputs_hash,
        since_last=_since(before, advice) if before else [],
        **(_decision_of(before) if before and _has_only_drifted(before, advice) else {}),
        **values,
    )


def _decision_of(before: Recommendation) -> dict[str, Any]:
    names = ("state", "decided_by_name", "decided_at", "decision_reason")
    return {name: getattr(before, name) for name in names}


def _has_only_drifted(before: Recommendation, advice: Advice) -> bool:
    """Days went by and nothing happened: who decided on these very levels is not asked again."""
    if before.state not in DECIDED or levels_of(before) != advice.levels:
        return False
    old, new = before.evidence.get("inputs", {}), _plain(advice.evidence["inputs"])
    named = [name for name in new if name not in ("rate_per_year", "policy")]
    if any(old.get(name) != new[name] for name in named) or not _policy_stands(before, advice):
        return False
    return abs(advice.rate_per_year - before.rate_per_year) <= DRIFT * before.rate_per_year


def _policy_stands(before: Recommendation, advice: Advice) -> bool:
    """Nobody has set other levels since the decision."""
    in_force = levels_in(advice.today)
    return inputs_hash(before.evidence["basis"], in_force) == before.inputs_hash


def _since(before: Recommendation, advice: Advice) -> list[str]:
    """Which inputs changed, and what that did to the levels."""
    inputs = changes(before.evidence.get("inputs", {}), _plain(advice.evidence["inputs"]))
    if not inputs:
        other = before.evidence.get("basis") != advice.evidence["basis"]
        inputs = ("The records behind it changed." if other else "It was worked out anew.",)
    old, new = levels_of(before), advice.levels
    moved = (
        f"The advice stays {short_levels(new)}."
        if old == new
        else f"The advice goes from {short_levels(old)} to {short_levels(new)}."
    )
    return [*inputs, moved]
