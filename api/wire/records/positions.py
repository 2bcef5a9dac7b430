"""Positions: the places on a drive, and what each asks of the sprocket that sits there."""

from api.edge.declarations import in_plant
from api.edge.filtering import Range
from api.edge.lengths import usual
from api.edge.parsing import StrictCharField
from api.wire.attribute_filters import LONGEST_MM, ChainFilter
from api.wire.declaration import FileForm, ListForm, WireRecord, declare
from api.wire.fields import OptionalTextField
from drives.models import Position
from drives.models.drive import POSITION_LENGTHS

COLUMNS = (
    "name role idler_kind teeth minimum_teeth shaft_kind shaft_diameter_mm key_width_mm key_height_mm "
    "keyway_depth_mm key_standard hex_across_flats_mm bush_size hub_style material hardened_teeth "
    "envelope_outside_diameter_mm envelope_hub_diameter_mm envelope_length_through_bore_mm requirement_basis "
    "in_use_from in_use_until note"
)
POSITIONS = declare(
    WireRecord(
        Position,
        path="positions",
        key="tag",
        scope=in_plant("drive__equipment__area__plant"),
        fields=f"id tag drive plant {COLUMNS} fitted created_at updated_at",
        lengths={
            "shaft_diameter_mm": usual("shaft diameter", "6", "600"),
            "key_width_mm": usual("key width", "2", "100"),
            "envelope_outside_diameter_mm": usual("room for the wheel with its chain", "12", "3000"),
            "envelope_hub_diameter_mm": usual("room for the hub", "9", "1500"),
            "envelope_length_through_bore_mm": usual("room along the shaft", "2", "600"),
        },
        members={
            "plant": StrictCharField(source="drive.equipment.area.plant.code", read_only=True),
            "bush_size": OptionalTextField(max_length=6),
        },
        related="drive__equipment__area__plant",
        listed=ListForm(
            filters=(
                "tag drive equipment=drive__equipment__tag area=drive__equipment__area__code "
                "plant=drive__equipment__area__plant__code role idler_kind shaft_kind key_standard bush_size hub_style "
                "material requirement_basis hardened_teeth"
            ),
            more={"chain": ChainFilter("drive__chain_designation")},
            numbers={
                **dict.fromkeys(POSITION_LENGTHS, Range(0, LONGEST_MM)),
                **dict.fromkeys(("teeth", "minimum_teeth"), Range(0, 1000, whole=True)),
            },
            days="in_use_from in_use_until",
            search="tag name drive__tag drive__name",
            sortable="tag drive role teeth shaft_diameter_mm updated_at",
            ordering="tag",
        ),
        file=FileForm(order=120, columns=f"tag drive {COLUMNS}"),
    )
)
