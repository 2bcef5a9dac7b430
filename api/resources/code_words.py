"""Codes of the sources and what they mean here; and the published map from our words to the standards' codes."""

from typing import Any

from django.http import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.concurrency import EtagUpdateMixin
from api.wire.records.code_words import CODE_WORDS
from api.wire.serializers import DeclaredSerializer
from api.wire.views import ReadRecordViewSet
from drives.feed.code_mapping import standard_codes
from drives.feed.quarantine import map_code
from drives.models import CodeWord


class CodeWordSerializer(DeclaredSerializer):
    """`word` is what the code means in the vocabulary of its field; null until somebody has read it."""

    record = CODE_WORDS


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


class CodeWordViewSet(EtagUpdateMixin, ReadRecordViewSet):
    """What sources say in codes of their own. A manager gives the word; all orders with the code follow."""

    record = CODE_WORDS
    http_method_names = ["get", "head", "options", "patch"]

    def perform_update(self, serializer: Any) -> CodeWord:
        code = serializer.instance
        word = serializer.validated_data.get("word", code.word)
        return map_code(code, word, by=caller_name(self.request), now=timezone.now())

    @extend_schema(responses=StandardAnswerSerializer)
    @action(detail=False, is_list=True)
    def standard(self, request: Request) -> HttpResponseBase:
        """Our words mapped to ISO 14224 and EN 13306, each with its source."""
        return self.listed(StandardAnswerSerializer({"results": standard_codes()}))
