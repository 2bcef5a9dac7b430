"""Recommendations: what to keep, with every reason; only a person's decision sets levels."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.utils import timezone
from rest_framework import serializers

from api.edge.auth import caller_name
from api.edge.change_log import LONGEST_KEY, logging_policy_decision
from api.edge.parsing import StrictCharField, StrictIntegerField
from api.models import Change
from api.wire.declaration import WireRecord
from api.wire.facts import FactSerializer
from api.wire.recommendations import redact, redacted, without_evidence
from api.wire.records.recommendations import RECOMMENDATIONS
from api.wire.serializers import BodySerializer, EmptyBodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet, post_action
from inventory.facts import fact
from inventory.models import Recommendation, RecommendationState, StockPolicy
from inventory.models.stocking import MOST_KEPT
from inventory.planning import decide
from inventory.planning.decide import LONGEST_REASON


class RecommendationListSerializer(serializers.ListSerializer[Any]):
    def to_representation(self, data: Any) -> list[Any]:
        rows = list(data)
        redact(rows)
        return super().to_representation(rows)


class RecommendationSerializer(ReadSerializer):
    """What to keep, what that achieves and costs, and the same figures of what is set today."""

    record = RECOMMENDATIONS
    run = serializers.IntegerField(source="run_id", read_only=True)
    today = serializers.DictField(
        read_only=True, help_text="Of the policy in force, with the same demand and lead time; empty: none."
    )
    reasons = FactSerializer(source="explanation", many=True, read_only=True)
    since_last = FactSerializer(many=True, read_only=True)
    review_on = serializers.SerializerMethodField(help_text="From the decision, or from the run.")

    @classmethod
    def meta_of(cls, record: WireRecord) -> type[Any]:
        meta = super().meta_of(record)
        meta.list_serializer_class = RecommendationListSerializer
        return meta

    def get_review_on(self, one: Recommendation) -> date:
        return timezone.localdate(one.decided_at or one.run.as_of) + timedelta(days=one.review_after_days)


class RecommendationDetailSerializer(RecommendationSerializer):
    """With all its evidence, down to the events."""

    evidence = serializers.DictField(read_only=True)

    def to_representation(self, one: Recommendation) -> dict[str, Any]:
        return super().to_representation(redacted(one))


class DeclineSerializer(BodySerializer):
    reason = StrictCharField(max_length=LONGEST_REASON)


class AcceptSerializer(BodySerializer):
    reason = StrictCharField(max_length=LONGEST_REASON, required=False)


class AmendSerializer(BodySerializer):
    """Other levels than recommended; -1 and 0 keep none."""

    reorder_point = StrictIntegerField(min_value=-1, max_value=MOST_KEPT)
    order_up_to = StrictIntegerField(min_value=0, max_value=MOST_KEPT)
    reason = StrictCharField(max_length=LONGEST_REASON)


class RecommendationViewSet(ReadRecordViewSet):
    """The newest of each item and storeroom; `state=superseded` shows the older ones."""

    record = RECOMMENDATIONS

    def get_queryset(self) -> Any:
        if self.action != "list":
            return super().get_queryset()
        found = without_evidence(super().get_queryset())
        return found if "state" in self.request.query_params else found.current()

    def get_serializer_class(self) -> type[RecommendationSerializer]:
        return RecommendationSerializer if self.action == "list" else RecommendationDetailSerializer

    @post_action(AcceptSerializer, RecommendationDetailSerializer)
    def accept(self, one: Recommendation, values: dict[str, Any]) -> None:
        """Set the policy to what is recommended."""
        self.decide(decide.accept, one, values)

    @post_action(AmendSerializer, RecommendationDetailSerializer)
    def amend(self, one: Recommendation, values: dict[str, Any]) -> None:
        """Set the policy to other levels, with a reason."""
        self.decide(decide.amend, one, values)

    @post_action(DeclineSerializer, RecommendationDetailSerializer)
    def decline(self, one: Recommendation, values: dict[str, Any]) -> None:
        """Leave the policy as it is, with a reason."""
        self.decide(decide.decline, one, values)

    @post_action(EmptyBodySerializer, RecommendationDetailSerializer)
    def reopen(self, one: Recommendation, values: dict[str, Any]) -> None:
        """Take the decision back: the policy is again what it was, and this waits for a decision again."""
        with logging_policy_decision(one):
            decide.reopen(one, before=policy_before(one))

    def decide(self, act: Callable[..., Recommendation], one: Recommendation, values: dict[str, Any]) -> None:
        with logging_policy_decision(one):
            act(one, by=caller_name(self.request), **values)


def policy_before(one: Recommendation) -> dict[str, Any] | None:
    """What the policy held before this decision, as the change log has it; None where the decision changed nothing."""
    if one.decided_at is None:
        return None
    key = f"{one.item.stock_number}/{one.storeroom.code}"
    since = Change.objects.filter(
        record=StockPolicy._meta.label_lower, key=key[:LONGEST_KEY], at__gte=one.decided_at
    )
    changes = list(since[:2])
    if not changes:
        return None
    [change, *later] = changes
    if later or change.action == "delete" or one.state == RecommendationState.DECLINED:
        raise decide.DecisionRefused(fact("policy_set_since_decision"))
    before: dict[str, Any] = change.before
    return before
