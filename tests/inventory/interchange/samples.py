"""A place and a part that fit each other, changed by one thing at a time."""

from dataclasses import replace

from inventory.interchange.requirement import Engagement, Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    BoreType,
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    ShaftKind,
)
from inventory.standards.chains import find_chain


def chain(designation):
    return Engagement.of(find_chain(designation))


def custom_chain(pitch_mm, roller_mm, inner_width_mm, **more):
    return Engagement(pitch_mm=pitch_mm, roller_diameter_mm=roller_mm, inner_width_mm=inner_width_mm, **more)


def keyed(diameter_mm=25.0, key_width_mm=8.0, **more):
    return Shaft(kind=ShaftKind.KEYED, diameter_mm=diameter_mm, key_width_mm=key_width_mm, **more)


def plain_shaft(diameter_mm=25.0, **more):
    return Shaft(kind=ShaftKind.PLAIN, diameter_mm=diameter_mm, **more)


def hex_shaft(across_flats_mm):
    return Shaft(kind=ShaftKind.HEX, across_flats_mm=across_flats_mm)


def pin(diameter_mm):
    return Shaft(kind=ShaftKind.PIN, diameter_mm=diameter_mm)


SPLINED = Shaft(kind=ShaftKind.SPLINE)


def room(**sizes):
    return Envelope(**sizes)


def copied_room(**sizes):
    return Envelope(**sizes, is_measured=False)


PLACE = Requirement(
    chain=chain("08B"),
    strands=1,
    teeth=17,
    role=PositionRole.DRIVER,
    shaft=keyed(),
    hub_style=HubStyle.B,
    material=Material.CARBON_STEEL,
    hardened_teeth=False,
    environment=frozenset({Environment.CLEAN_DRY}),
)
PART = Sprocket(
    chain=chain("08B"),
    teeth=17,
    strands=1,
    hub_style=HubStyle.B,
    bore_type=BoreType.FINISHED,
    bore_mm=25.0,
    keyway_width_mm=8.0,
    keyway_depth_mm=3.3,
    key_standard=KeyStandard.ISO_773,
    set_screws=2,
    hub_diameter_mm=45.0,
    length_through_bore_mm=28.0,
    material=Material.CARBON_STEEL,
    hardened_teeth=False,
)
UNBORED = {
    "bore_mm": None,
    "keyway_width_mm": None,
    "keyway_depth_mm": None,
    "key_standard": None,
    "set_screws": None,
}


def place(**changes):
    return replace(PLACE, **changes)


def part(**changes):
    return replace(PART, **changes)


def pilot(bore_mm=12.0, max_bore_mm=None, **changes):
    attributes = {**UNBORED, "bore_type": BoreType.PLAIN, "bore_mm": bore_mm, "max_bore_mm": max_bore_mm}
    return part(**{**attributes, **changes})


def bushed(size, **changes):
    return part(**{**UNBORED, "bore_type": BoreType.TAPERED, "bush_size": size, **changes})


def qd(size, **changes):
    return bushed(size, bore_type=BoreType.QD, **changes)


def hexed(across_flats_mm, **changes):
    return part(**{**UNBORED, "bore_type": BoreType.HEX, "hex_across_flats_mm": across_flats_mm, **changes})


def idler(bore_mm=25.0, **changes):
    return part(**{**UNBORED, "bore_type": BoreType.BEARING, "bore_mm": bore_mm, **changes})


def idler_place(**changes):
    return place(**{"role": PositionRole.IDLER, "shaft": pin(25.0), **changes})
