"""Parts and places over every attribute."""

from dataclasses import fields, replace

from hypothesis import strategies as st

from inventory.interchange.requirement import Engagement, Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    RoleKind,
    ShaftKind,
)
from inventory.standards.bushes import bushes
from inventory.standards.chains import chains

CHAINS = [Engagement.of(chain) for chain in chains()]
FAMILIAR = [
    chain for chain in CHAINS if chain.designation in {"08A", "08B", "10A", "10B", "12A", "12AH", "16B"}
]
TAPER = [bush.size for bush in bushes() if bush.series == "taper"]
QD = [bush.size for bush in bushes() if bush.series == "qd"]


def maybe(strategy):
    return st.none() | strategy


def sizes(least, most):
    return st.integers(int(least * 2), int(most * 2)).map(lambda halves: halves / 2)


def needed(bore_type):
    """What each bore type cannot be judged without."""
    return {
        BoreType.PLAIN: {"bore_mm": sizes(8, 40)},
        BoreType.FINISHED: {"bore_mm": sizes(10, 60), "keyway_width_mm": sizes(3, 18)},
        BoreType.SPLIT: {"bore_mm": sizes(10, 60), "keyway_width_mm": sizes(3, 18)},
        BoreType.BEARING: {"bore_mm": sizes(10, 60)},
        BoreType.HEX: {"hex_across_flats_mm": sizes(10, 60)},
        BoreType.TAPERED: {"bush_size": st.sampled_from(TAPER)},
        BoreType.QD: {"bush_size": st.sampled_from(QD)},
    }[bore_type]


OTHERS = {
    "role_kind": maybe(st.sampled_from(RoleKind)),
    "hub_style": maybe(st.sampled_from(HubStyle)),
    "max_bore_mm": maybe(sizes(40, 90)),
    "keyway_depth_mm": maybe(sizes(1, 8)),
    "key_standard": maybe(st.sampled_from(KeyStandard)),
    "set_screws": maybe(st.integers(0, 4)),
    "hub_diameter_mm": maybe(sizes(30, 200)),
    "hub_diameter_2_mm": maybe(sizes(30, 200)),
    "length_through_bore_mm": maybe(sizes(5, 150)),
    "outside_diameter_mm": maybe(sizes(30, 900)),
    "tooth_width_mm": maybe(sizes(2, 60)),
    "material": maybe(st.sampled_from(Material)),
    "material_grade": maybe(st.sampled_from(["C45", "304", "316", "1.4404", "PA 6"])),
    "hardened_teeth": maybe(st.booleans()),
    "food_contact": maybe(st.just(True)),
    "non_sparking": maybe(st.just(True)),
    "mass_kg": maybe(st.floats(0.1, 200)),
}


@st.composite
def complete_parts(draw, engagements=None):
    """Complete in chain, teeth, strands, bore type and what that bore type needs; the rest as it comes."""
    engagement = draw(st.sampled_from(engagements or CHAINS))
    bore_type = draw(st.sampled_from(BoreType))
    strands = draw(st.integers(1, 1 if engagement.transverse_pitch_mm is None else 4))
    attributes = {name: draw(strategy) for name, strategy in OTHERS.items()}
    attributes |= {name: draw(strategy) for name, strategy in needed(bore_type).items()}
    return Sprocket(
        chain=engagement,
        teeth=draw(st.integers(9, 120)),
        strands=strands,
        bore_type=bore_type,
        single_cut=draw(st.booleans()),
        **attributes,
    )


@st.composite
def parts(draw, engagements=None):
    """Any part, with holes anywhere in its record."""
    whole = draw(complete_parts(engagements))
    holes = draw(st.sets(st.sampled_from([f.name for f in fields(Sprocket)]), max_size=4))
    return replace(whole, **dict.fromkeys(holes))


SHAFTS = st.one_of(
    st.builds(
        Shaft,
        kind=st.just(ShaftKind.KEYED),
        diameter_mm=maybe(sizes(10, 60)),
        key_width_mm=maybe(sizes(3, 18)),
        key_height_mm=maybe(sizes(3, 12)),
        keyway_depth_mm=maybe(sizes(1, 6)),
        key_standard=maybe(st.sampled_from(KeyStandard)),
        bush_size=maybe(st.sampled_from([*TAPER, *QD])),
    ),
    st.builds(
        Shaft, kind=st.sampled_from([ShaftKind.PLAIN, ShaftKind.PIN]), diameter_mm=maybe(sizes(10, 60))
    ),
    st.builds(Shaft, kind=st.just(ShaftKind.HEX), across_flats_mm=maybe(sizes(10, 60))),
    st.builds(Shaft, kind=st.just(ShaftKind.SPLINE)),
)
ENVELOPES = st.builds(
    Envelope,
    outside_diameter_mm=maybe(sizes(30, 900)),
    hub_diameter_mm=maybe(sizes(20, 200)),
    length_through_bore_mm=maybe(sizes(5, 150)),
    is_measured=st.booleans(),
)
ENVIRONMENTS = st.frozensets(st.sampled_from(Environment))


@st.composite
def places(draw, engagements=None):
    """Any place, stated or standing on a part."""
    return Requirement(
        chain=draw(maybe(st.sampled_from(engagements or CHAINS))),
        strands=draw(maybe(st.integers(1, 4))),
        teeth=draw(maybe(st.integers(9, 120))),
        role=draw(maybe(st.sampled_from(PositionRole))),
        minimum_teeth=draw(maybe(st.integers(9, 30))),
        single_cut=draw(maybe(st.booleans())),
        shaft=draw(maybe(SHAFTS)),
        interface=draw(maybe(parts(engagements))),
        hub_style=draw(maybe(st.sampled_from(HubStyle))),
        material=draw(maybe(st.sampled_from(Material))),
        material_grade=draw(maybe(st.sampled_from(["304", "316"]))),
        hardened_teeth=draw(maybe(st.booleans())),
        environment=draw(ENVIRONMENTS),
        envelope=draw(ENVELOPES),
        food_contact_required=draw(st.booleans()),
        non_sparking_required=draw(st.booleans()),
        is_shock_loaded=draw(maybe(st.booleans())),
    )
