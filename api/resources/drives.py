"""Chain drives."""

from typing import Any, cast

from django.db.models import Prefetch, Q, QuerySet, TextField
from django.db.models.functions import Cast
from rest_framework import serializers

from api.edge.filtering import Range, TruthFilter, WordsFilter
from api.edge.parsing import MoneyField, NumberField, StrictCharField, StrictChoiceField
from api.edge.record_views import KeyedRecordViewSet
from api.wire.attribute_filters import LONGEST_MM, ChainFilter, DayFilterSet
from api.wire.fields import ChainField
from api.wire.references import equipment_field
from api.wire.serializers import RecordSerializer
from drives.models import Drive, Position
from drives.models.drive import Criticality, Lubrication, Shock
from inventory.interchange.vocabulary import Environment
from inventory.models.fields import MINUTES_A_WEEK

LARGEST_ADJUSTMENT_MM = 10_000
WORDS = [word.value for word in Environment]


class DriveSerializer(RecordSerializer):
    """A drive: its chain, centres and duty, and the tags of its positions."""

    equipment = equipment_field()
    plant = StrictCharField(source="equipment.area.plant.code", read_only=True)
    chain = ChainField(source="chain_designation")
    centre_adjustment_min_mm = NumberField(
        max_digits=10,
        decimal_places=3,
        min_value=-LARGEST_ADJUSTMENT_MM,
        max_value=LARGEST_ADJUSTMENT_MM,
        required=False,
        allow_null=True,
    )
    centre_adjustment_max_mm = NumberField(
        max_digits=10,
        decimal_places=3,
        min_value=-LARGEST_ADJUSTMENT_MM,
        max_value=LARGEST_ADJUSTMENT_MM,
        required=False,
        allow_null=True,
    )
    environment = serializers.ListField(
        child=StrictChoiceField(choices=WORDS), required=False, max_length=len(WORDS)
    )
    downtime_cost_per_hour = MoneyField(required=False, allow_null=True)
    positions = serializers.SerializerMethodField()

    class Meta:
        model = Drive
        fields = [
            "id",
            "tag",
            "equipment",
            "plant",
            "name",
            "chain",
            "pitch_mm",
            "roller_diameter_mm",
            "inner_width_mm",
            "transverse_pitch_mm",
            "strands",
            "links",
            "centre_distance_mm",
            "centre_adjustment_min_mm",
            "centre_adjustment_max_mm",
            "fixed_centres",
            "power_kw",
            "driver_speed_rpm",
            "service_factor",
            "ratio_tolerance_percent",
            "lubrication",
            "environment",
            "temperature_c",
            "hours_per_year",
            "criticality",
            "downtime_cost_per_hour",
            "currency",
            "lifting",
            "reversing",
            "shock",
            "food_contact_required",
            "non_sparking_required",
            "hardened_teeth_required",
            "fitting_minutes",
            "in_use_from",
            "in_use_until",
            "note",
            "positions",
            "created_at",
            "updated_at",
        ]

    def get_positions(self, drive: Any) -> list[str]:
        return [position.tag for position in drive.places]


class DriveFilter(DayFilterSet):
    numbers = {
        "pitch_mm": Range(0, LONGEST_MM),
        "strands": Range(0, 100, whole=True),
        "links": Range(0, 100_000, whole=True),
        "centre_distance_mm": Range(0, LONGEST_MM),
        "power_kw": Range(0, 99_999),
        "driver_speed_rpm": Range(0, 99_999),
        "service_factor": Range(0, 99),
        "hours_per_year": Range(0, 8784, whole=True),
        "fitting_minutes": Range(0, MINUTES_A_WEEK, whole=True),
        "temperature_c": Range(-273, 2000),
        "downtime_cost_per_hour": Range(0, 10**11),
    }
    days = ("in_use_from", "in_use_until")
    search_fields = ["tag", "name", "equipment__tag", "equipment__name"]
    tag = WordsFilter()
    equipment = WordsFilter("equipment__tag")
    area = WordsFilter("equipment__area__code")
    plant = WordsFilter("equipment__area__plant__code")
    chain = ChainFilter("chain_designation")
    lubrication = WordsFilter(choices=Lubrication.values)
    criticality = WordsFilter(choices=Criticality.values)
    shock = WordsFilter(choices=Shock.values)
    environment = WordsFilter(choices=WORDS, method="filter_environment")
    lifting = TruthFilter()
    reversing = TruthFilter()
    fixed_centres = TruthFilter()
    food_contact_required = TruthFilter()
    non_sparking_required = TruthFilter()
    hardened_teeth_required = TruthFilter()

    class Meta:
        model = Drive
        fields: list[str] = []

    def filter_environment(self, queryset: QuerySet[Any], name: str, words: list[str]) -> QuerySet[Any]:
        """SQLite knows no containment in JSON: the quoted word is looked for in the text of the list."""
        named = Q()
        for word in words:
            named |= Q(surroundings__contains=f'"{word}"')
        described = queryset.annotate(surroundings=Cast("environment", TextField()))
        return cast(QuerySet[Any], described.filter(named))


class DriveViewSet(KeyedRecordViewSet):
    """Drives by tag."""

    queryset: QuerySet[Any] = Drive.objects.select_related("equipment__area__plant").prefetch_related(
        Prefetch("positions", Position.objects.only("tag", "drive_id").order_by("tag"), to_attr="places")
    )
    serializer_class = DriveSerializer
    filterset_class = DriveFilter
    lookup_field = "tag"
    ordering_fields = {
        "tag": "tag",
        "name": "name",
        "equipment": "equipment__tag",
        "power_kw": "power_kw",
        "driver_speed_rpm": "driver_speed_rpm",
        "downtime_cost_per_hour": "downtime_cost_per_hour",
        "updated_at": "updated_at",
    }
    ordering = "tag"
