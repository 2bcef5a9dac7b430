"""Specifications: the generic attributes of a part, whoever made it. A new attribute is written in `ATTRIBUTES`."""

from api.edge.declarations import EVERYBODY
from api.edge.lengths import usual
from api.wire import cells
from api.wire.declaration import Column, FileForm, ListForm, WireRecord, declare
from api.wire.fields import ChainField, OptionalTextField
from inventory.models import PartKind, Specification

ENGAGEMENT = "chain pitch_mm roller_diameter_mm inner_width_mm transverse_pitch_mm"
ATTRIBUTES = (
    "role_kind hub_style bore_type bore_mm max_bore_mm keyway_width_mm keyway_depth_mm key_standard set_screws "
    "bush_size hex_across_flats_mm hub_diameter_mm hub_diameter_2_mm length_through_bore_mm outside_diameter_mm "
    "tooth_width_mm material material_grade hardened_teeth food_contact non_sparking single_cut key_height_mm "
    "key_length_mm mass_kg"
)
SPECIFICATIONS = declare(
    WireRecord(
        Specification,
        path="specifications",
        scope=EVERYBODY,
        fields=f"id kind {ENGAGEMENT} teeth strands {ATTRIBUTES} geometry created_at updated_at",
        renamed={"chain": "chain_designation"},
        # Each lower bound lies under the smallest part in the chain, key and bush tables and above the usual inch figures
        # for the same dimension. Judgement, and only ever a question: a stated unit answers it.
        lengths={
            "pitch_mm": usual("pitch", "4", "400"),
            "roller_diameter_mm": usual("roller diameter", "2", "150"),
            "inner_width_mm": usual("inner width", "2", "150"),
            "transverse_pitch_mm": usual("transverse pitch", "4", "300"),
            "bore_mm": usual("bore", "6", "600"),
            "max_bore_mm": usual("greatest bore", "6", "600"),
            "keyway_width_mm": usual("keyway width", "2", "100"),
            "keyway_depth_mm": usual("keyway depth", "0.8", "40"),
            "key_height_mm": usual("key height", "2", "60"),
            "key_length_mm": usual("key length", "5", "500"),
            "hex_across_flats_mm": usual("hexagon", "5", "200"),
            "hub_diameter_mm": usual("hub diameter", "9", "1500"),
            "hub_diameter_2_mm": usual("other hub diameter", "9", "1500"),
            "length_through_bore_mm": usual("length through bore", "2", "600"),
            "outside_diameter_mm": usual("outside diameter", "12", "3000"),
            "tooth_width_mm": usual("tooth width", "2", "150"),
        },
        members={
            "chain": ChainField(source="chain_designation"),
            "bush_size": OptionalTextField(max_length=6),
            "material_grade": OptionalTextField(max_length=30),
        },
        listed=ListForm(
            search="chain_designation bush_size material_grade",
            sortable="id chain=chain_designation teeth strands bore_mm pitch_mm updated_at",
            ordering="id",
        ),
    )
)
BESIDE_ITEM = FileForm(
    order=0,
    columns=f"kind {ENGAGEMENT} strands teeth {ATTRIBUTES}",
    # Empty for an item that no specification stands behind.
    given={"kind": Column("kind", "kind", cells.Word(tuple(PartKind.values)), blank="")},
)
"""The attributes in the file of the items."""
