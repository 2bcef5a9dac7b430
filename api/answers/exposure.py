"""Which places stand without cover, the costliest first."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from django import forms
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import parameter_errors
from api.edge.filtering import NearMomentText, NumberText, Range
from api.edge.scope import visible_to_caller
from api.edge.viewsets import StrictAPIView
from drives.exposure.positions_at_risk import standings
from drives.exposure.risk_inputs import Outlook, load_outlook
from drives.models import Plant
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Storeroom

DEFAULT_LIMIT = 50


class PileSerializer(serializers.Serializer[Any]):
    storeroom = serializers.CharField()
    available = serializers.IntegerField()


class CoveringItemSerializer(serializers.Serializer[Any]):
    item = serializers.CharField(source="stock_number")
    grade = serializers.ChoiceField(choices=[grade.value for grade in GRADE_RANK if grade is not Grade.UNFIT])
    available = serializers.IntegerField(help_text="Free pieces in all storerooms.")
    stock = PileSerializer(many=True, source="piles")


class StandingSerializer(serializers.Serializer[Any]):
    position = serializers.CharField(source="place.tag")
    drive = serializers.CharField(source="place.drive")
    plant = serializers.CharField(source="place.plant")
    storeroom = serializers.CharField(source="place.storeroom", help_text="The one that serves the plant.")
    criticality = serializers.CharField(source="place.criticality")
    chance = serializers.FloatField(
        source="chance.value",
        allow_null=True,
        default=None,
        help_text="That it stops within the lead time and no shelf can serve it; null: not known.",
    )
    chance_at_least = serializers.FloatField(
        source="chance.least",
        allow_null=True,
        default=None,
        help_text="Below `chance` only where a bound was worked out.",
    )
    chance_to_ask = serializers.FloatField(source="chance.asks", allow_null=True, default=None)
    lead_time_days = serializers.FloatField(allow_null=True)
    lead_time_item = serializers.CharField(help_text="The item that can be there soonest.")
    downtime_cost_per_hour = serializers.DecimalField(
        source="place.cost_per_hour", max_digits=14, decimal_places=2, allow_null=True
    )
    expected_cost = serializers.DecimalField(
        max_digits=16, decimal_places=2, allow_null=True, help_text="Null: not known, which is not nothing."
    )
    currency = serializers.CharField(source="place.currency")
    needs_transfer = serializers.BooleanField(help_text="What is free lies in another storeroom.")
    covers = CoveringItemSerializer(many=True, help_text="What can serve it, and where that lies.")
    sentence = serializers.CharField()


class ExposureSerializer(serializers.Serializer[Any]):
    judged = serializers.IntegerField(help_text="How many positions were looked at.")
    hours_to_expedite = serializers.FloatField(
        allow_null=True, help_text="From the stop to an emergency delivery; null: no cost can be told."
    )
    notes = serializers.ListField(child=serializers.CharField())
    results = StandingSerializer(many=True)


class ExposureQuery(forms.Form):
    storeroom = forms.CharField(required=False, max_length=20)
    plant = forms.CharField(required=False, max_length=20)
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    at = NearMomentText(required=False)


def wanted_positions(outlook: Outlook, storeroom: str, plant: str) -> list[int]:
    """Positions of a plant, or of the plants that a storeroom serves; each name must be known."""
    wrong = {}
    if storeroom and not visible_to_caller(Storeroom.objects.filter(code=storeroom)).exists():
        wrong["storeroom"] = f"There is no storeroom {storeroom!r}."
    if plant and not visible_to_caller(Plant.objects.filter(code=plant)).exists():
        wrong["plant"] = f"There is no plant {plant!r}."
    if wrong:
        raise parameter_errors(wrong)
    return [
        position
        for position, place in outlook.places.items()
        if storeroom in ("", place.storeroom) and plant in ("", place.plant)
    ]


def notes_on(outlook: Outlook, rows: Iterable[Any]) -> list[str]:
    """What is not known of the plant, said once."""
    found = list(rows)
    notes = []
    if not any(outlook.grades.values()):
        notes.append(
            "Nobody has worked out yet which item serves which position: run the stocking run first."
        )
    if outlook.hours_to_expedite is None:
        notes.append(
            "The hours to an emergency delivery are not known: rows stand in the order of chance times cost per hour."
        )
    unpriced = sum(row.chance is not None and row.place.cost_per_hour is None for row in found)
    if unpriced:
        notes.append(f"{unpriced} without a downtime cost stand after those that have one, by criticality.")
    unknown = sum(row.chance is None for row in found)
    if unknown:
        notes.append(f"{unknown} whose chance cannot be told stand last; each says what is missing.")
    return notes


class ExposureView(StrictAPIView):
    """The chance of each position to stop within its lead time with nothing on any shelf to serve it."""

    is_costly = True
    query_form = ExposureQuery

    @extend_schema(responses=ExposureSerializer, operation_id="exposure")
    def get(self, request: Request) -> Response:
        wanted = self.read_query()
        outlook = load_outlook(wanted["at"] or datetime.now(UTC))
        rows = standings(outlook, among=wanted_positions(outlook, wanted["storeroom"], wanted["plant"]))
        answer = {
            "judged": len(rows),
            "hours_to_expedite": outlook.hours_to_expedite,
            "notes": notes_on(outlook, rows),
            "results": rows[: int(wanted["limit"] or DEFAULT_LIMIT)],
        }
        return Response(ExposureSerializer(answer).data)
