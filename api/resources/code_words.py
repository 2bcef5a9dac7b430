"""Codes of the sources and what they mean here; and the published map from our words to the standards' codes."""

from collections.abc import Collection
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import caller_name
from api.edge.concurrency import EtagUpdateMixin
from api.edge.errors import field_errors, pointer
from api.edge.filtering import Range, StrictFilterSet, TruthFilter, WordsFilter
from api.edge.parsing import StrictModelSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.wire.fields import OptionalTextField
from drives.feed.code_mapping import WordRefusal, read_code
from drives.feed.codes import WORDS
from drives.feed.iso14224_codes import standard_codes
from drives.models import CodeWord


class CodeWordSerializer(StrictModelSerializer):
    """`word` is what the code means in the vocabulary of its field; null until somebody has read it."""

    word = OptionalTextField(max_length=40)

    class Meta:
        model = CodeWord
        fields = ["id", "source", "field", "code", "word", "seen", "read_by_name", "created_at", "updated_at"]
        read_only_fields = [name for name in fields if name != "word"]


class StandardCodeSerializer(serializers.Serializer[Any]):
    """One of our words and the code of a standard; `confidence` says whether the clause was seen."""

    field = serializers.CharField()
    word = serializers.CharField()
    standard = serializers.CharField()
    code = serializers.CharField(help_text="Empty where the standard has none that was found.")
    term = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    confidence = serializers.ChoiceField(choices=["seen in part", "contents seen", "from memory"])
    note = serializers.CharField()


class StandardAnswerSerializer(serializers.Serializer[Any]):
    results = StandardCodeSerializer(many=True)


class CodeWordFilter(StrictFilterSet):
    numbers = {"seen": Range(0, 2**31 - 1, whole=True)}
    search_fields = ["code"]
    source = WordsFilter()
    field = WordsFilter(choices=list(WORDS))
    word = WordsFilter()
    unread = TruthFilter(method="filter_unread", help_text="Nobody has read it yet.")

    def filter_unread(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return queryset.filter(word="") if value else queryset.exclude(word="")


class CodeWordViewSet(EtagUpdateMixin, ReadOnlyResourceViewSet):
    """What sources say in codes of their own. A manager gives the word; all orders with the code follow."""

    queryset: QuerySet[Any] = CodeWord.objects.all()
    serializer_class = CodeWordSerializer
    filterset_class = CodeWordFilter
    ordering_fields: ClassVar[Any] = ["id", "seen", "code"]
    ordering = ("-seen", "id")
    write_roles: ClassVar[Collection[str] | None] = ("manager",)
    http_method_names = ["get", "head", "options", "patch"]

    def perform_update(self, serializer: Any) -> CodeWord:
        code = serializer.instance
        word = serializer.validated_data.get("word", code.word)
        try:
            return read_code(code, word, by=caller_name(self.request), now=timezone.now())
        except WordRefusal as refusal:
            raise field_errors({pointer(refusal.field): refusal.sentence}) from refusal

    @extend_schema(responses=StandardAnswerSerializer)
    @action(detail=False)
    def standard(self, request: Request) -> HttpResponseBase:
        """Our words mapped to ISO 14224 and EN 13306, each with its source."""
        return Response({"results": [StandardCodeSerializer(row).data for row in standard_codes()]})
