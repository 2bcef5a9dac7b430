"""Positions: the places on a drive, and what each asks of the sprocket that sits there."""

from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.edge.filtering import Range, TruthFilter, WordsFilter
from api.edge.parsing import (
    StrictCharField,
    StrictDateField,
    StrictIntegerField,
    StrictSerializer,
    UtcDateTimeField,
)
from api.edge.record_views import KeyedRecordViewSet
from api.wire.attribute_filters import LONGEST_MM, ChainFilter, DayFilterSet, words_of
from api.wire.fields import OptionalTextField
from api.wire.references import drive_field
from api.wire.serializers import RecordSerializer
from drives.models import Installation, Position
from drives.models.drive import POSITION_LENGTHS, IdlerKind, RequirementBasis
from inventory.interchange.vocabulary import HubStyle, KeyStandard, Material, PositionRole, ShaftKind


class FittedSerializer(StrictSerializer):
    """The unit that sits there now."""

    installation = StrictIntegerField()
    item = StrictCharField(allow_null=True)
    specification = StrictIntegerField(allow_null=True)
    teeth = StrictIntegerField(allow_null=True)
    installed_at = UtcDateTimeField()
    temporary_until = StrictDateField(allow_null=True)


class PositionSerializer(RecordSerializer):
    """A place on a drive. `fitted` is the unit that sits there now; null: nothing is recorded as fitted."""

    drive = drive_field()
    plant = StrictCharField(source="drive.equipment.area.plant.code", read_only=True)
    bush_size = OptionalTextField(max_length=6)
    fitted = serializers.SerializerMethodField()

    class Meta:
        model = Position
        fields = [
            "id",
            "tag",
            "drive",
            "plant",
            "name",
            "role",
            "idler_kind",
            "teeth",
            "minimum_teeth",
            "shaft_kind",
            "shaft_diameter_mm",
            "key_width_mm",
            "key_height_mm",
            "keyway_depth_mm",
            "key_standard",
            "hex_across_flats_mm",
            "bush_size",
            "hub_style",
            "material",
            "hardened_teeth",
            "envelope_outside_diameter_mm",
            "envelope_hub_diameter_mm",
            "envelope_length_through_bore_mm",
            "requirement_basis",
            "in_use_from",
            "in_use_until",
            "note",
            "fitted",
            "created_at",
            "updated_at",
        ]

    @extend_schema_field(FittedSerializer(allow_null=True))
    def get_fitted(self, position: Any) -> Any:
        return fitted_unit(position.fitted_now[0]) if position.fitted_now else None


def fitted_unit(unit: Installation) -> dict[str, Any]:
    shown = {
        "installation": unit.pk,
        "item": unit.item.stock_number if unit.item else None,
        "specification": unit.specification_id,
        "teeth": unit.specification.teeth if unit.specification else None,
        "installed_at": unit.installed_at,
        "temporary_until": unit.temporary_until,
    }
    return dict(FittedSerializer(shown).data)


class PositionFilter(DayFilterSet):
    numbers = {
        **{name: Range(0, LONGEST_MM) for name in POSITION_LENGTHS},
        "teeth": Range(0, 1000, whole=True),
        "minimum_teeth": Range(0, 1000, whole=True),
    }
    days = ("in_use_from", "in_use_until")
    search_fields = ["tag", "name", "drive__tag", "drive__name"]
    tag = WordsFilter()
    drive = WordsFilter("drive__tag")
    equipment = WordsFilter("drive__equipment__tag")
    area = WordsFilter("drive__equipment__area__code")
    plant = WordsFilter("drive__equipment__area__plant__code")
    chain = ChainFilter("drive__chain_designation")
    role = WordsFilter(choices=words_of(PositionRole))
    idler_kind = WordsFilter(choices=words_of(IdlerKind))
    shaft_kind = WordsFilter(choices=words_of(ShaftKind))
    key_standard = WordsFilter(choices=words_of(KeyStandard))
    bush_size = WordsFilter()
    hub_style = WordsFilter(choices=words_of(HubStyle))
    material = WordsFilter(choices=words_of(Material))
    requirement_basis = WordsFilter(choices=words_of(RequirementBasis))
    hardened_teeth = TruthFilter()
    fitted = TruthFilter(method="filter_fitted", help_text="A unit sits there now.")
    item = WordsFilter(method="filter_item", help_text="Stock numbers of what sits there now.")

    class Meta:
        model = Position
        fields: list[str] = []

    def filter_fitted(self, queryset: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        there = Exists(Installation.objects.still_fitted().filter(position=OuterRef("pk")))
        return queryset.filter(there if value else ~there)

    def filter_item(self, queryset: QuerySet[Any], name: str, numbers: list[str]) -> QuerySet[Any]:
        fitted = Installation.objects.still_fitted().filter(item__stock_number__in=numbers)
        return queryset.filter(Exists(fitted.filter(position=OuterRef("pk"))))


class PositionViewSet(KeyedRecordViewSet):
    """Places by tag."""

    queryset: QuerySet[Any] = Position.objects.select_related(
        "drive__equipment__area__plant"
    ).prefetch_related(
        Prefetch("installations", Installation.objects.with_parts().still_fitted(), to_attr="fitted_now")
    )
    serializer_class = PositionSerializer
    filterset_class = PositionFilter
    lookup_field = "tag"
    ordering_fields = {
        "tag": "tag",
        "drive": "drive__tag",
        "role": "role",
        "teeth": "teeth",
        "shaft_diameter_mm": "shaft_diameter_mm",
        "updated_at": "updated_at",
    }
    ordering = "tag"
