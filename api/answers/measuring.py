"""What to measure next: attributes that are not recorded, by the money and the verdicts that wait for them."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.answers.frontier import next_address
from api.edge.errors import parameter_errors
from api.edge.filtering import NumberText, Range
from api.edge.parsing import MoneyField
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from api.wire.facts import FactSerializer
from drives.assortment.measuring import (
    AttributeToMeasure,
    MeasureQuestion,
    ShelfToMeasure,
    attributes_to_measure,
)
from drives.models import Plant
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.planning.terms import load_terms

DEFAULT_LIMIT = 50
HOW = fact("how_verdicts_are_blocked")


@dataclass(frozen=True)
class MeasureLists:
    """All lines, and what they are in."""

    currency: str
    lines: list[AttributeToMeasure]


def lists_to_measure(*, storeroom: str = "", plant: str = "") -> MeasureLists:
    found = attributes_to_measure(timezone.localdate(), storeroom=storeroom, plant=plant)
    return MeasureLists(load_terms().currency, found)


class ShelfToMeasureSerializer(CoreAnswerSerializer):
    of = ShelfToMeasure
    members = "storeroom condition pieces"


class AttributeToMeasureSerializer(CoreAnswerSerializer):
    of = AttributeToMeasure
    members = (
        "item=stock_number description attribute verdicts verdicts_with_others vital without_stock positions shelves pieces "
        "stock_value stop_cost blocked"
    )
    texts = {
        "verdicts": "Positions in use where this attribute alone keeps the item from serving.",
        "verdicts_with_others": "Positions in use where one or two others are missing with it.",
        "vital": "Of all these, those of vital drives.",
        "without_stock": "Of all these, those for which nothing on any shelf serves.",
        "positions": "The first of them.",
        "stock_value": "Of the available pieces, where the item serves no position; null: no price in this currency.",
        "stop_cost": "Of the dearest of the drives without stock, while an emergency order takes.",
        "blocked": "Value and stop together: the order of the list.",
    }
    shelves = ShelfToMeasureSerializer(many=True)
    stock_value = MoneyField(allow_null=True)
    stop_cost, blocked = MoneyField(), MoneyField()


class MeasureNextSerializer(serializers.Serializer[Any]):
    currency = serializers.CharField()
    how = FactSerializer(help_text="What is counted.")
    count = serializers.IntegerField()
    next = serializers.URLField(allow_null=True, help_text="The next page of the results.")
    results = AttributeToMeasureSerializer(many=True)


class MeasureQuestionSerializer(CoreAnswerSerializer):
    of = MeasureQuestion
    members = "attribute how verdicts verdicts_with_others also_items"
    texts = {
        "attribute": "Of the specification; of an unknown chain `how` may ask for another reading first.",
        "also_items": "Other stock numbers with the same specification: what is measured is written for them too.",
    }
    how = FactSerializer()


class MeasureNextQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)
    plant = forms.CharField(required=False, max_length=20)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    after = NumberText(
        span=Range(0, 1e9, whole=True),
        required=False,
        help_text="The place in the list after which the page begins.",
    )


class MeasureNextView(StrictAPIView):
    """Attributes that are not recorded of pieces on a shelf, the most blocked money first. From the last stocking run; stock is that of now."""

    is_list = True
    query_form = MeasureNextQuery

    @extend_schema(responses=MeasureNextSerializer)
    def get(self, request: Request) -> Response:
        query = self.read_query()
        for name, model in (("storeroom", Storeroom), ("plant", Plant)):
            code, rows = query[name], visible_to_caller(model._default_manager.all())
            if code and not rows.filter(code=code).exists():
                raise parameter_errors({name: fact("no_such_record", kind=name, name=code)})
        found = lists_to_measure(storeroom=query["storeroom"], plant=query["plant"])
        after = int(query["after"] or 0)
        end = after + int(query["limit"] or DEFAULT_LIMIT)
        shown = {
            "currency": found.currency,
            "how": HOW,
            "count": len(found.lines),
            "next": next_address(request, end) if end < len(found.lines) else None,
            "results": found.lines[after:end],
        }
        return self.listed(MeasureNextSerializer(shown))
