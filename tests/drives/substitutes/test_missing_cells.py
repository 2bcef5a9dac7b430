from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes.missing_cells import MissingCell, blocking, missing_cells
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.interchange.requirement import Engagement, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    BoreType,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    ShaftKind,
)
from inventory.standards.chains import find_chain
from tests import factories as make

CHAIN = find_chain("12B")
assert CHAIN is not None
RIM = Engagement.of(CHAIN)
SHAFT = Shaft(
    kind=ShaftKind.KEYED,
    diameter_mm=35,
    key_width_mm=10,
    keyway_depth_mm=3.3,
    key_standard=KeyStandard("ISO 773"),
)
WHOLE = Requirement(chain=RIM, strands=1, teeth=19, role=PositionRole.DRIVER, shaft=SHAFT)
EQUAL = Sprocket(
    chain=RIM,
    strands=1,
    teeth=19,
    hub_style=HubStyle.B,
    bore_type=BoreType.FINISHED,
    bore_mm=35,
    keyway_width_mm=10,
    keyway_depth_mm=3.3,
    key_standard=KeyStandard("ISO 773"),
    set_screws=2,
    hub_diameter_mm=75,
    length_through_bore_mm=40,
    material=Material.CARBON_STEEL,
    hardened_teeth=True,
)
KEYLESS = Shaft(kind=ShaftKind.KEYED, diameter_mm=35)
CASES = [
    ({}, []),
    ({"chain": None}, [MissingCell("drives", "chain")]),
    ({"strands": None}, [MissingCell("drives", "strands")]),
    ({"teeth": None}, [MissingCell("positions", "teeth")]),
    (
        {"shaft": None},
        [MissingCell("positions", "shaft_kind"), MissingCell("positions", "shaft_diameter_mm")],
    ),
    ({"shaft": replace(SHAFT, diameter_mm=None)}, [MissingCell("positions", "shaft_diameter_mm")]),
    ({"shaft": KEYLESS}, [MissingCell("positions", "key_width_mm")]),
]


@pytest.mark.parametrize(("changes", "cells"), CASES)
def test_the_verdict_lacks_something_exactly_where_a_cell_is_named(
    changes: dict[str, object], cells: list[MissingCell]
) -> None:
    required = replace(WHOLE, **changes)  # type: ignore[arg-type]

    found = judge_for_place(required, EQUAL, duty=Duty()).findings

    assert list(blocking(required)) == cells
    assert any(one.is_unchecked and one.outcome is not None for one in found) is bool(cells)


@pytest.mark.django_db
def test_the_worst_place_comes_first_and_cells_are_counted() -> None:
    plain = make.PositionFactory(tag="P-1", teeth=None)
    make.PositionFactory(tag="P-2", teeth=None, drive__criticality="vital")
    make.PositionFactory(
        tag="P-3", teeth=None, drive__downtime_cost_per_hour=Decimal(900), drive__currency="EUR"
    )
    make.PositionFactory(tag="P-4")
    make.PositionFactory(tag="P-5", teeth=None, in_use_until=date(2020, 1, 1))

    found = missing_cells(positions_with_requirements(), date(2026, 11, 30))

    assert plain.shaft_kind
    assert [place.tag for place in found.places] == ["P-2", "P-3", "P-1"]
    assert (found.in_use, found.judged) == (4, 1)
    assert found.by_cell == ((MissingCell("positions", "teeth"), 3, 3),)
