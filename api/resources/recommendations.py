"""Recommendations: what to keep, with every reason; only a person's decision sets levels."""

from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.change_log import logging_policy_decision
from api.edge.concurrency import etag_response
from api.edge.filtering import Range, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import MoneyField, StrictCharField, StrictIntegerField, StrictModelSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.models import Role
from api.wire.facts import FactsField, SentencesField, conflict, field_refusal
from api.wire.recommendations import redact, redacted, without_evidence
from api.wire.serializers import ActSerializer
from inventory.models import Importance, Recommendation, RecommendationState
from inventory.models.stocking import MOST_KEPT
from inventory.planning import decide
from inventory.planning.decide import LONGEST_REASON, DecisionRefused, DecisionUnsound

MODELS = ("gamma_poisson", "weibull_renewal", "intermittent", "none")


class RecommendationListSerializer(serializers.ListSerializer[Any]):
    def to_representation(self, data: Any) -> list[Any]:
        rows = list(data)
        redact(rows)
        return super().to_representation(rows)


class RecommendationSerializer(StrictModelSerializer):
    """What to keep, what that achieves and costs, and the same figures of what is set today."""

    item = StrictCharField(source="item.stock_number", read_only=True)
    description = StrictCharField(source="item.description", read_only=True)
    storeroom = StrictCharField(source="storeroom.code", read_only=True)
    run = serializers.IntegerField(source="run_id", read_only=True)
    holding_cost_per_year = MoneyField(read_only=True, allow_null=True)
    today = serializers.DictField(
        read_only=True, help_text="Of the policy in force, with the same demand and lead time; empty: none."
    )
    explanation = SentencesField(read_only=True)
    reasons = FactsField(source="explanation", read_only=True)
    since_last = SentencesField(read_only=True)
    since_last_facts = FactsField(source="since_last", read_only=True)
    review_on = serializers.SerializerMethodField(help_text="From the decision, or from the run.")
    decided_by = StrictCharField(source="decided_by_name", read_only=True)

    class Meta:
        model = Recommendation
        list_serializer_class = RecommendationListSerializer
        fields = [
            *("id", "item", "description", "storeroom", "state", "changed", "is_answered", "importance"),
            *("stocked", "reorder_point", "order_up_to", "model", "target_kind", "target_value"),
            *("rate_per_year", "planned_per_year", "lead_time_days", "lead_time_sd_days"),
            *("expected_lead_time_demand", "fill_rate", "expected_stockouts_per_year"),
            *("holding_cost_per_year", "currency", "today", "explanation", "reasons"),
            *("since_last", "since_last_facts", "review_on"),
            *("run", "decided_by", "decided_at", "decision_reason", "created_at", "updated_at"),
        ]
        read_only_fields = fields

    def get_review_on(self, one: Recommendation) -> date:
        return (one.decided_at or one.run.as_of).date() + timedelta(days=one.review_after_days)


class RecommendationDetailSerializer(RecommendationSerializer):
    """With all its evidence, down to the events."""

    evidence = serializers.DictField(read_only=True)

    class Meta(RecommendationSerializer.Meta):
        fields = [*RecommendationSerializer.Meta.fields, "evidence"]
        read_only_fields = fields

    def to_representation(self, one: Recommendation) -> dict[str, Any]:
        return super().to_representation(redacted(one))


class AcceptSerializer(ActSerializer):
    """No members."""


class DeclineSerializer(ActSerializer):
    reason = StrictCharField(max_length=LONGEST_REASON)


class AmendSerializer(ActSerializer):
    """Other levels than recommended; -1 and 0 keep none."""

    reorder_point = StrictIntegerField(min_value=-1, max_value=MOST_KEPT)
    order_up_to = StrictIntegerField(min_value=0, max_value=MOST_KEPT)
    reason = StrictCharField(max_length=LONGEST_REASON)


class RecommendationFilter(StrictFilterSet):
    numbers = {
        "reorder_point": Range(-1, MOST_KEPT, whole=True),
        "order_up_to": Range(0, MOST_KEPT, whole=True),
        "rate_per_year": Range(0, 1e6),
        "lead_time_days": Range(0, 3650),
        "expected_stockouts_per_year": Range(0, 1e6),
        "run": Range(1, 2**31 - 1, whole=True),
    }
    moments = {"created_at": "", "decided_at": ""}
    search_fields = ["item__stock_number", "item__description"]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    state = WordsFilter(
        choices=RecommendationState.values, help_text="Without it, all but what a newer one replaced."
    )
    changed = TruthFilter(help_text="Whether it differs from the policy in force.")
    is_answered = TruthFilter(help_text="false: something has to be entered first.")
    stocked = TruthFilter()
    importance = WordsFilter(choices=Importance.values)
    model = WordsFilter(choices=MODELS)


@contextmanager
def decision_refusals() -> Iterator[None]:
    try:
        yield
    except DecisionUnsound as refusal:
        raise field_refusal(refusal) from refusal
    except DecisionRefused as refusal:
        raise conflict(refusal) from refusal


class RecommendationViewSet(ReadOnlyResourceViewSet):
    """The newest of each item and storeroom; `state=superseded` shows the older ones."""

    queryset: QuerySet[Any] = Recommendation.objects.with_places()
    filterset_class = RecommendationFilter
    write_roles: ClassVar[Collection[str] | None] = (Role.MANAGER,)
    ordering_fields = {
        **{
            name: name
            for name in (
                *("id", "rate_per_year", "expected_stockouts_per_year", "holding_cost_per_year"),
                *("created_at", "decided_at"),
            )
        },
        "item": "item__stock_number",
        "storeroom": "storeroom__code",
    }
    ordering = ("storeroom__code", "item__stock_number", "-id")

    def get_queryset(self) -> Any:
        if self.action != "list":
            return super().get_queryset()
        found = without_evidence(super().get_queryset())
        return found if "state" in self.request.query_params else found.current()

    def get_serializer_class(self) -> type[RecommendationSerializer]:
        return RecommendationSerializer if self.action == "list" else RecommendationDetailSerializer

    @extend_schema(request=AcceptSerializer, responses=RecommendationDetailSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def accept(self, request: Request, pk: str) -> HttpResponseBase:
        """Set the policy to what is recommended."""
        return self.decided(request, AcceptSerializer, decide.accept)

    @extend_schema(request=AmendSerializer, responses=RecommendationDetailSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def amend(self, request: Request, pk: str) -> HttpResponseBase:
        """Set the policy to other levels, with a reason."""
        return self.decided(request, AmendSerializer, decide.amend)

    @extend_schema(request=DeclineSerializer, responses=RecommendationDetailSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def decline(self, request: Request, pk: str) -> HttpResponseBase:
        """Leave the policy as it is, with a reason."""
        return self.decided(request, DeclineSerializer, decide.decline)

    def decided(
        self, request: Request, reads: type[ActSerializer], act: Callable[..., Recommendation]
    ) -> HttpResponseBase:
        body = reads(data=request.data)
        body.is_valid(raise_exception=True)
        recommendation = self.get_object()
        with decision_refusals(), logging_policy_decision(recommendation):
            act(recommendation, by=caller_name(request), **body.validated_data)
        return etag_response(request, self.represent(self.fresh(recommendation)))
