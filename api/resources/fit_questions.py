"""Fit questions: parts that came back because they did not fit, and the measurement that settles why."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.concurrency import etag_response
from api.edge.errors import Conflict, field_errors, pointer
from api.edge.filtering import StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictCharField, StrictModelSerializer
from api.edge.record_views import STOCK_ROLES
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.wire.fields import OptionalTextField
from api.wire.recorded_checks import RecordedVerdictField
from api.wire.serializers import ActSerializer
from drives.substitutes import fit_questions
from inventory.models import FitQuestion
from inventory.plumbing.record_validation import RecordRefusal


class FitQuestionSerializer(StrictModelSerializer):
    """What the records said of the part at that place, and what has to be measured. `movement` is its return."""

    item = StrictCharField(source="item.stock_number", read_only=True)
    storeroom = StrictCharField(source="storeroom.code", read_only=True)
    movement = serializers.IntegerField(source="entry_id", read_only=True)
    position = OptionalTextField(read_only=True)
    work_order = OptionalTextField(read_only=True)
    verdict = RecordedVerdictField(read_only=True, help_text="Empty where no place is known.")
    answer = OptionalTextField(read_only=True)
    answered_by = OptionalTextField(source="answered_by_name", read_only=True)

    class Meta:
        model = FitQuestion
        fields = [
            "id",
            "item",
            "storeroom",
            "movement",
            "position",
            "work_order",
            "measure",
            "verdict",
            "answer",
            "answered_at",
            "answered_by",
            "created_at",
        ]
        read_only_fields = fields


class AnswerSerializer(ActSerializer):
    """What was measured, and what it means for the record."""

    answer = StrictCharField(max_length=300)


class FitQuestionFilter(StrictFilterSet):
    moments = {"created_at": "", "answered_at": ""}
    search_fields = ["item__stock_number", "position", "work_order", "measure", "answer"]
    item = WordsFilter("item__stock_number")
    storeroom = WordsFilter("storeroom__code")
    position = WordsFilter()
    work_order = WordsFilter()
    answered = TruthFilter("answered_at", lookup_expr="isnull", exclude=True)


class FitQuestionViewSet(ReadOnlyResourceViewSet):
    """Opened by a return that did not fit; open until somebody says what was measured."""

    queryset: QuerySet[Any] = FitQuestion.objects.select_related("item", "storeroom")
    serializer_class = FitQuestionSerializer
    filterset_class = FitQuestionFilter
    ordering_fields = ["id", "created_at", "answered_at"]
    ordering = "-id"
    write_roles: ClassVar[Collection[str] | None] = STOCK_ROLES

    @extend_schema(request=AnswerSerializer, responses=FitQuestionSerializer)
    @action(detail=True, methods=["post"])
    @idempotent()
    def answer(self, request: Request, pk: str) -> HttpResponseBase:
        """Say what was measured, once."""
        serializer = AnswerSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        question = self.get_object()
        try:
            fit_questions.answer(question, serializer.validated_data["answer"], by=caller_name(request))
        except fit_questions.QuestionAnswered as refusal:
            raise Conflict(refusal.sentence) from refusal
        except RecordRefusal as refusal:
            raise field_errors({pointer(refusal.field): refusal.sentence}) from refusal
        return etag_response(request, self.represent(self.fresh(question)))
