"""A person accepts, amends or declines a recommendation, or takes that back; the policy is written in the same transaction."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.facts import Refusal, fact
from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.models.stocking import MOST_KEPT
from inventory.planning.inputs_hash import inputs_hash
from inventory.planning.policy_inputs import HOLD_NONE, PolicyLevels, levels_of
from inventory.planning.save_recommendations import DECISION

LONGEST_REASON = 300


class DecisionRefused(Refusal):
    """The state does not allow it; nothing was set."""


class DecisionUnsound(Refusal):
    """A field is not acceptable; nothing was set."""


def accept(recommendation: Recommendation, *, by: str, reason: str = "") -> Recommendation:
    """Set what was recommended."""
    with transaction.atomic():
        held = _open(recommendation)
        if not held.is_answered:
            raise DecisionRefused(fact("recommendation_not_answered"))
        return _decided(held, RecommendationState.ACCEPTED, by=by, reason=reason, levels=levels_of(held))


def amend(
    recommendation: Recommendation, *, by: str, reorder_point: int, order_up_to: int, reason: str
) -> Recommendation:
    """Set other levels than recommended, with the reason."""
    levels = _checked_levels(reorder_point, order_up_to)
    reason = _checked_reason(reason)
    with transaction.atomic():
        held = _open(recommendation)
        return _decided(held, RecommendationState.AMENDED, by=by, reason=reason, levels=levels)


def decline(recommendation: Recommendation, *, by: str, reason: str) -> Recommendation:
    """Leave the policy as it is, with the reason."""
    reason = _checked_reason(reason)
    with transaction.atomic():
        return _decided(_open(recommendation), RecommendationState.DECLINED, by=by, reason=reason)


def reopen(recommendation: Recommendation, *, before: Mapping[str, Any] | None) -> Recommendation:
    """Take a decision back: the policy is again as `before`, empty where there was none; None: it was left as it is."""
    with transaction.atomic():
        held = Recommendation.objects.select_for_update().get(pk=recommendation.pk)
        if held.state == RecommendationState.SUPERSEDED:
            raise DecisionRefused(fact("recommendation_superseded"))
        if held.state == RecommendationState.OPEN:
            raise DecisionRefused(fact("recommendation_not_decided"))
        policies = StockPolicy.objects.filter(item=held.item_id, storeroom=held.storeroom_id)
        if before:
            policy = policies.get()
            for name, value in before.items():
                setattr(policy, name, value)
            policy.save()
        elif before is not None:
            policies.delete()
        now = policies.first()
        levels = PolicyLevels(now.stocked, now.reorder_point, now.order_up_to) if now else None
        held.inputs_hash = inputs_hash(held.evidence.get("basis", ""), levels)
        held.changed = levels != levels_of(held)
        held.state, held.decided_at = RecommendationState.OPEN, None
        held.decided_by_name = held.decision_reason = ""
        held.save(update_fields=[*DECISION, "inputs_hash", "changed", "updated_at"])
    return held


def _open(recommendation: Recommendation) -> Recommendation:
    """The row, locked to the end of the transaction, if it still waits for its decision."""
    held = Recommendation.objects.select_for_update().get(pk=recommendation.pk)
    if held.state == RecommendationState.SUPERSEDED:
        raise DecisionRefused(fact("recommendation_superseded"))
    if held.state != RecommendationState.OPEN:
        raise DecisionRefused(
            fact("recommendation_already_decided", decided_by=held.decided_by_name, state=held.state)
        )
    return held


def _checked_levels(reorder_point: int, order_up_to: int) -> PolicyLevels:
    if (reorder_point, order_up_to) == (HOLD_NONE.reorder_point, HOLD_NONE.order_up_to):
        return HOLD_NONE
    if reorder_point < 0:
        raise DecisionUnsound(fact("reorder_point_below_zero"), field="reorder_point")
    if order_up_to <= reorder_point:
        raise DecisionUnsound(fact("order_up_to_too_low", reorder_point=reorder_point), field="order_up_to")
    if order_up_to > MOST_KEPT:
        raise DecisionUnsound(fact("order_up_to_too_high", limit=MOST_KEPT), field="order_up_to")
    return PolicyLevels(True, reorder_point, order_up_to)


def _checked_reason(reason: str) -> str:
    reason = reason.strip()
    if not 0 < len(reason) <= LONGEST_REASON:
        raise DecisionUnsound(fact("decision_reason_required", longest=LONGEST_REASON), field="reason")
    return reason


def _decided(
    held: Recommendation,
    state: RecommendationState,
    *,
    by: str,
    reason: str = "",
    levels: PolicyLevels | None = None,
) -> Recommendation:
    now = timezone.now()
    if levels is not None:
        review_on = timezone.localdate(now) + timedelta(days=held.review_after_days)
        policy = {"reason": reason or f"Recommendation {held.pk}", "review_on": review_on, "set_by_name": by}
        StockPolicy.objects.update_or_create(
            item_id=held.item_id, storeroom_id=held.storeroom_id, defaults=levels.as_json() | policy
        )
        # The decision's own policy is no change of its inputs: with it in force the recommendation stays decided.
        held.inputs_hash = inputs_hash(held.evidence.get("basis", ""), levels)
        held.changed = levels != levels_of(held)
    held.state, held.decided_at, held.decided_by_name, held.decision_reason = state, now, by, reason
    held.save(update_fields=[*DECISION, "inputs_hash", "changed", "updated_at"])
    return held
