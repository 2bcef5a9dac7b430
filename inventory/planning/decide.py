"""A person's yes, other or no to a recommendation; a yes writes the policy in the same transaction."""

from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone

from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.models.stocking import MOST_KEPT
from inventory.planning.facts import HOLD_NONE, Levels, levels_of
from inventory.planning.inputs import inputs_hash

LONGEST_REASON = 300


class DecisionRefused(ValueError):  # noqa: N818 - reads as the refusal it is
    """The state does not allow it; nothing was set."""


class DecisionUnsound(ValueError):  # noqa: N818
    """`field` names what to change and `sentence` says how; nothing was set."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


def accept(recommendation: Recommendation, *, by: str) -> Recommendation:
    """Set what was recommended."""
    with transaction.atomic():
        held = _open(recommendation)
        if not held.is_answered:
            raise DecisionRefused(
                "It is not answered yet, so there is nothing to accept: its explanation says what to enter,"
                " or amend it with levels of your own."
            )
        reason = f"Recommendation {held.pk} accepted."
        return _decided(
            held, RecommendationState.ACCEPTED, by=by, reason="", levels=levels_of(held), words=reason
        )


def amend(
    recommendation: Recommendation, *, by: str, reorder_point: int, order_up_to: int, reason: str
) -> Recommendation:
    """Set other levels than recommended, and say why."""
    levels = _sound(reorder_point, order_up_to)
    said = _said(reason)
    with transaction.atomic():
        held = _open(recommendation)
        return _decided(held, RecommendationState.AMENDED, by=by, reason=said, levels=levels, words=said)


def decline(recommendation: Recommendation, *, by: str, reason: str) -> Recommendation:
    """Leave in force what is, and say why."""
    said = _said(reason)
    with transaction.atomic():
        held = _open(recommendation)
        return _decided(held, RecommendationState.DECLINED, by=by, reason=said, levels=None, words="")


def _open(recommendation: Recommendation) -> Recommendation:
    """The row, held to the end of the transaction, if it still waits for its decision."""
    held = Recommendation.objects.select_for_update().get(pk=recommendation.pk)
    if held.state == RecommendationState.SUPERSEDED:
        raise DecisionRefused("A newer recommendation took its place: work with the newest.")
    if held.state != RecommendationState.OPEN:
        raise DecisionRefused(
            f"{held.decided_by_name} decided it already: it is {held.state}. It opens again when its inputs change."
        )
    return held


def _sound(reorder_point: int, order_up_to: int) -> Levels:
    if (reorder_point, order_up_to) == (HOLD_NONE.reorder_point, HOLD_NONE.order_up_to):
        return HOLD_NONE
    if reorder_point < 0:
        raise DecisionUnsound(
            "reorder_point", "Give 0 or more, or -1 together with order_up_to 0 to keep none."
        )
    if order_up_to <= reorder_point:
        raise DecisionUnsound("order_up_to", f"It must be above reorder_point, {reorder_point}.")
    if order_up_to > MOST_KEPT:
        raise DecisionUnsound("order_up_to", f"It must be at most {MOST_KEPT:,}.")
    return Levels(True, reorder_point, order_up_to)


def _said(reason: str) -> str:
    said = reason.strip()
    if not said or len(said) > LONGEST_REASON:
        raise DecisionUnsound("reason", f"Say why, in 1 to {LONGEST_REASON} characters.")
    return said


def _decided(
    held: Recommendation,
    state: RecommendationState,
    *,
    by: str,
    reason: str,
    levels: Levels | None,
    words: str,
) -> Recommendation:
    now = timezone.now()
    if levels is not None:
        _set_policy(held, levels, by=by, reason=words, on=now.date())
        # The decision's own policy is no news to it: with it in force the recommendation stays decided.
        held.inputs_hash = inputs_hash(held.evidence.get("basis", ""), levels)
        held.changed = levels != levels_of(held)
    held.state, held.decided_at, held.decided_by_name, held.decision_reason = state, now, by, reason
    held.save(
        update_fields=[
            *("state", "decided_at", "decided_by_name", "decision_reason"),
            *("inputs_hash", "changed", "updated_at"),
        ]
    )
    return held


def _set_policy(held: Recommendation, levels: Levels, *, by: str, reason: str, on: date) -> None:
    StockPolicy.objects.update_or_create(
        item_id=held.item_id,
        storeroom_id=held.storeroom_id,
        defaults={
            **levels.as_json(),
            "reason": reason,
            "review_on": on + timedelta(days=held.review_after_days),
            "set_by_name": by,
        },
    )
