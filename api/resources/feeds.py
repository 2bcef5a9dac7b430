"""Mapped feeds: the body is what the sender sends, in its own words; what it means stands in `source-answers`."""

from typing import Any

from django.http import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound, PermissionDenied
from rest_framework.parsers import BaseParser
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import caller_name
from api.edge.errors import field_errors
from api.edge.viewsets import StrictAPIView
from api.exchange.feeds.taking import KINDS, take_records
from api.exchange.refusals import FileRefused
from api.resources.imports import CsvParser, FileParser, JsonLinesParser, RowSerializer, file_of
from api.wire.facts import FactSerializer
from api.wording.sentences import sentences
from inventory.models.access_scope import current_scope

SOURCE_NOT_KNOWN = "source_not_known"


class JsonFileParser(FileParser):
    media_type = "application/json"
    ending = ".json"


class PlainTextParser(FileParser):
    media_type = "text/plain"
    ending = ".csv"


class FeedResultSerializer(serializers.Serializer[Any]):
    """What came of each record; `column` of an error is the field of the sender. What is rejected waits in `inbound-messages/`."""

    kind = serializers.CharField()
    counts = serializers.DictField(child=serializers.IntegerField(), source="result.counts")
    rows = RowSerializer(many=True)
    notes = FactSerializer(many=True)

    def to_representation(self, instance: Any) -> dict[str, Any]:
        return {
            "kind": instance.kind,
            "counts": {str(name): count for name, count in instance.result.counts.items()},
            "rows": RowSerializer([row.as_json() for row in instance.rows], many=True).data,
            "notes": FactSerializer(instance.notes, many=True).data,
        }


class FeedView(StrictAPIView):
    """Records of a sender that cannot be changed."""

    write_roles = ("integration", "manager")
    parser_classes: list[type[BaseParser]] = [JsonFileParser, JsonLinesParser, CsvParser, PlainTextParser]

    @extend_schema(
        request={
            "application/json": {},
            "text/csv": {"type": "string"},
            "text/plain": {"type": "string"},
            "application/x-ndjson": {"type": "string"},
        },
        responses=FeedResultSerializer,
        operation_id="feed",
    )
    def post(self, request: Request, source: str, kind: str) -> HttpResponseBase:
        """Up to 1,000 records, JSON or CSV. Repeating them changes nothing: the reference of the sender is the key."""
        if kind not in KINDS:
            raise NotFound(f"There is no feed of this kind; there are {', '.join(KINDS)}.")
        if not current_scope().is_whole:
            raise PermissionDenied("Feeds are taken by credentials without limits alone.")
        file: Any = file_of(request).file
        try:
            found = take_records(source, kind, file, by=caller_name(request))
        except FileRefused as refusal:
            if any(one.code == SOURCE_NOT_KNOWN for one in refusal.facts):
                raise NotFound(sentences(refusal.facts)) from refusal
            raise field_errors({"": refusal.facts}) from refusal
        return Response(FeedResultSerializer(found).data)
