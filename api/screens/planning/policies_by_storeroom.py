"""The stock policies of an item by storeroom, with the recommendation to decide."""

from dataclasses import dataclass

from django.db.models.fields.json import KT

from api.edge.scope import ELSEWHERE, visible_to_caller
from inventory.models import Item, Recommendation, RecommendationState, StockPolicy, Storeroom
from inventory.models.access_scope import current_scope


@dataclass(frozen=True)
class StoreroomPolicy:
    """What is None is not there."""

    storeroom: Storeroom
    item: Item
    policy: StockPolicy | None
    recommendation: Recommendation | None
    kept_in: str = ""
    """The storeroom that keeps it for this one."""

    @property
    def is_to_decide(self) -> bool:
        found = self.recommendation
        return found is not None and found.state == RecommendationState.OPEN and found.changed


def policies_by_storeroom(item: Item) -> list[StoreroomPolicy]:
    """Where there is a policy or a recommendation; two queries."""
    policies = {
        policy.storeroom: policy
        for policy in visible_to_caller(StockPolicy.objects.filter(item=item)).select_related("storeroom")
    }
    current = (
        visible_to_caller(Recommendation.objects.current()).filter(item=item).select_related("storeroom")
    )
    shown = current.annotate(kept_in=KT("evidence__kept_in__storeroom"))
    advice = {found.storeroom: found for found in shown.defer("evidence", "explanation", "today")}
    rooms = sorted({*policies, *advice}, key=lambda room: room.code)
    return [
        StoreroomPolicy(
            room,
            item,
            policies.get(room),
            advice.get(room),
            _seen(getattr(advice.get(room), "kept_in", None)),
        )
        for room in rooms
    ]


def _seen(code: str | None) -> str:
    if not code or current_scope().is_whole:
        return code or ""
    return code if visible_to_caller(Storeroom.objects.filter(code=code)).exists() else ELSEWHERE
