"""Storeroom descriptions read into the attributes of a specification, each with the piece of text behind it."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.answers.substitutes import item_named
from api.edge.parsing import StrictCharField, StrictSerializer
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from inventory.catalogue.written_descriptions import WrittenDescription, written_descriptions
from inventory.descriptions.reader import LONGEST_LINE, read_description
from inventory.descriptions.reading import (
    BESIDE_SPECIFICATION,
    DescriptionReading,
    ReadAttribute,
    UnreadPiece,
)
from inventory.facts import fact

MOST_LINES = 1_000


class DescriptionsBodySerializer(StrictSerializer):
    lines = serializers.ListField(
        child=StrictCharField(max_length=LONGEST_LINE, allow_blank=True, trim_whitespace=False),
        min_length=1,
        max_length=MOST_LINES,
    )


@extend_schema_field({"oneOf": [{"type": "string"}, {"type": "number"}, {"type": "boolean"}]})
class ReadValueField(serializers.Field[Any, Any, Any, Any]):
    """Text, a number or true and false, as the attribute of a specification has it."""

    def to_representation(self, value: Any) -> Any:
        return value


def span_field() -> serializers.ListField:
    return serializers.ListField(
        child=serializers.IntegerField(),
        min_length=2,
        max_length=2,
        allow_null=True,
        help_text="Where the text begins and ends in the line, counted in characters from 0.",
    )


class ReadAttributeSerializer(CoreAnswerSerializer):
    of = ReadAttribute
    members = "value basis confidence text span"
    texts = {
        "basis": "Stated in the line, implied by a code, or assumed where the line is silent.",
        "confidence": "From 0 to 1; orders readings by judgement and is no frequency.",
        "text": "The exact piece of the line; empty where the value is assumed.",
    }
    value = ReadValueField()
    span = span_field()


class UnreadPieceSerializer(CoreAnswerSerializer):
    of = UnreadPiece
    members = "text span"
    span = span_field()


BESIDE = "; ".join(f"`{name}`: {text}" for name, text in BESIDE_SPECIFICATION.items())


class DescriptionReadingSerializer(CoreAnswerSerializer):
    of = DescriptionReading
    members = "outcome attributes questions unread"
    texts = {
        "outcome": "parsed: nothing is in doubt. needs_review: see the questions. rejected: not one sprocket, with the reason.",
    }
    attributes = serializers.DictField(
        child=ReadAttributeSerializer(),
        help_text="By the name of the attribute in a specification. `material` may also be `aluminium` or `bronze`, and "
        "`strands` `2x1` (two single rows), which no specification records; with a bush, `bore_mm` is that of the bush. "
        f"Beside those of a specification: {BESIDE}",
    )
    questions = FactSerializer(many=True)
    unread = UnreadPieceSerializer(many=True)


class DescriptionsAnswerSerializer(serializers.Serializer[Any]):
    results = DescriptionReadingSerializer(many=True, help_text="One for each line, in order.")


class DescriptionsReadView(StrictAPIView):
    """Stateless. Reads up to 1,000 lines in English, German, French, Spanish and Italian; a doubt is a question, not a guess."""

    @extend_schema(
        request=DescriptionsBodySerializer,
        responses=DescriptionsAnswerSerializer,
    )
    def post(self, request: Request) -> Response:
        lines = self.read(DescriptionsBodySerializer, request)["lines"]
        results = [read_description(line) for line in lines]
        return Response(DescriptionsAnswerSerializer({"results": results}).data)


class WrittenDescriptionSerializer(CoreAnswerSerializer):
    of = WrittenDescription
    members = "language characters text"
    texts = {"characters": "At most so many.", "text": "Noun first; read back, it says the same."}


class WrittenDescriptionsSerializer(serializers.Serializer[Any]):
    descriptions = WrittenDescriptionSerializer(many=True)
    reasons = FactSerializer(many=True, help_text="Why there are none.")


class ItemDescriptionsView(StrictAPIView):
    """Descriptions of a sprocket written from its attributes, in 40 and 200 characters and five languages."""

    @extend_schema(responses=WrittenDescriptionsSerializer)
    def get(self, request: Request, key: str) -> Response:
        found = written_descriptions(item_named(key).specification)
        reasons = [] if found else [fact("nothing_to_describe")]
        return Response(WrittenDescriptionsSerializer({"descriptions": found, "reasons": reasons}).data)
