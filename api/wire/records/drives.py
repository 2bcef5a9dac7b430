"""Chain drives."""

from rest_framework import serializers

from api.edge.declarations import in_plant
from api.edge.filtering import Range
from api.edge.lengths import usual
from api.edge.parsing import NumberField, StrictCharField, StrictChoiceField
from api.wire import cells
from api.wire.attribute_filters import LONGEST_MM, ChainFilter
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.fields import ChainField
from drives.models import Drive
from inventory.interchange.vocabulary import Environment

LARGEST_ADJUSTMENT_MM = 10_000
ENVIRONMENTS = tuple(word.value for word in Environment)


def adjustment_field() -> NumberField:
    return NumberField(
        max_digits=10,
        decimal_places=3,
        min_value=-LARGEST_ADJUSTMENT_MM,
        max_value=LARGEST_ADJUSTMENT_MM,
        required=False,
        allow_null=True,
    )


COLUMNS = (
    "name chain pitch_mm roller_diameter_mm inner_width_mm transverse_pitch_mm strands links centre_distance_mm "
    "centre_adjustment_min_mm centre_adjustment_max_mm fixed_centres power_kw driver_speed_rpm service_factor "
    "ratio_tolerance_percent lubrication environment temperature_c hours_per_year criticality "
    "downtime_cost_per_hour currency lifting reversing shock food_contact_required non_sparking_required "
    "hardened_teeth_required fitting_minutes in_use_from in_use_until note"
)
DRIVES = declare(
    WireRecord(
        Drive,
        path="drives",
        key="tag",
        scope=in_plant("equipment__area__plant"),
        fields=f"id tag equipment plant {COLUMNS} positions created_at updated_at",
        renamed={"chain": "chain_designation"},
        lengths={
            "centre_distance_mm": usual("centre distance", "40", "30000"),
        },
        members={
            "plant": StrictCharField(source="equipment.area.plant.code", read_only=True),
            "chain": ChainField(source="chain_designation"),
            "centre_adjustment_min_mm": adjustment_field(),
            "centre_adjustment_max_mm": adjustment_field(),
            "environment": serializers.ListField(
                child=StrictChoiceField(choices=ENVIRONMENTS), required=False, max_length=len(ENVIRONMENTS)
            ),
        },
        related="equipment__area__plant",
        listed=ListForm(
            filters=(
                "tag equipment area=equipment__area__code plant=equipment__area__plant__code lubrication criticality "
                "shock lifting reversing fixed_centres food_contact_required non_sparking_required "
                "hardened_teeth_required"
            ),
            more={"chain": ChainFilter("chain_designation")},
            numbers={
                "pitch_mm": Range(0, LONGEST_MM),
                "strands": Range(0, 100, whole=True),
                "links": Range(0, 100_000, whole=True),
                "centre_distance_mm": Range(0, LONGEST_MM),
                "power_kw": Range(0, 99_999),
                "driver_speed_rpm": Range(0, 99_999),
                "service_factor": Range(0, 99),
                "hours_per_year": Range(0, 8784, whole=True),
                "temperature_c": Range(-273, 2000),
                "downtime_cost_per_hour": Range(0, 10**11),
            },
            minutes="fitting_minutes",
            days="in_use_from in_use_until",
            search="tag name equipment__tag equipment__name",
            sortable="tag name equipment power_kw driver_speed_rpm downtime_cost_per_hour updated_at",
            ordering="tag",
        ),
        file=FileForm(
            order=110,
            columns=f"tag equipment {COLUMNS}",
            parsers={"environment": cells.Words(tuple(Environment))},
        ),
    )
)
