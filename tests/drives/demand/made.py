"""Pools put together by hand, without a database."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from drives.demand.cover import CoverMap, Edge
from drives.demand.parts import Parts
from drives.demand.pools import Place, Plant, Pool
from drives.demand.request_matching import Asking
from drives.demand.unit_lives import Life
from drives.models import Drive, Position
from inventory.models import Item, Specification, Storeroom

BEGIN = datetime.fromisoformat("2020-01-01T00:00:00+00:00")
ROOM = Storeroom(pk=1, code="MAIN", name="Storeroom MAIN")


def years_on(years: float) -> datetime:
    return BEGIN + timedelta(days=365 * years)


def position(pk: int, *, role: str = "driver", **drive: Any) -> Position:
    given = {
        "pitch_mm": Decimal("12.7"),
        "environment": [],
        "hours_per_year": 8760,
        "criticality": "essential",
        "currency": "EUR",
    } | drive
    return Position(pk=pk, tag=f"P{pk:03d}", role=role, drive=Drive(pk=pk, tag=f"D{pk:03d}", **given))


def asking(at: float, place: int | None = None, item: int = 1, **more: Any) -> Asking:
    """`at` in years of record."""
    given = {
        "quantity": 1,
        "work_order": "",
        "is_planned": False,
        "result": "filled",
        "source": "request",
        "given_id": None,
    }
    return Asking(at=years_on(at), item_id=item, storeroom_id=1, position_id=place, **{**given, **more})


def life(
    place: int, hours: float, ended_by: str = "", mechanism: str = "wear", at: float = 1.0, **more: Any
) -> Life:
    """Ended so many years into the record; without an end it still runs."""
    given = {"item_id": 1, "basis": "calendar", "work_order": "", "is_temporary": False} | more
    return Life(
        position_id=place,
        installed_at=BEGIN,
        removed_at=years_on(at) if ended_by else None,
        hours=hours,
        ended_by=ended_by,
        mechanism=mechanism if ended_by else "",
        **given,
    )


def pool(
    part: int = 1,
    *,
    positions: Iterable[Position] = (),
    asked: Iterable[Asking] = (),
    lives: Iterable[Life] = (),
    years: float = 5.0,
    members: tuple[int, ...] | None = None,
) -> Pool:
    askings = list(asked)
    places = tuple(
        Place(place, part, years, tuple(one for one in askings if one.position_id == place.pk))
        for place in positions
    )
    here = {place.position.pk for place in places}
    return Pool(
        part=part,
        storeroom=ROOM,
        member_ids=members or (part,),
        places=places,
        loose=tuple(one for one in askings if one.position_id not in here),
        lives=tuple(lives),
        record_from=BEGIN,
        as_of=years_on(years),
    )


def failing(part: int, times: int, *, years: float = 5.0, **drive: Any) -> Pool:
    """One position that asked so often, spread over the record."""
    place = position(part, **drive)
    return pool(
        part,
        positions=[place],
        asked=[asking(years * (one + 0.5) / max(times, 1), part, part) for one in range(times)],
        years=years,
    )


def plant(*pools: Pool, edges: Iterable[Edge] = ()) -> Plant:
    items, part_of = {}, {}
    for one in pools:
        for member in one.member_ids:
            kind = "sprocket" if one.places else "bush"
            items[member] = Item(
                pk=member, stock_number=f"SPR-{member:03d}", specification=Specification(kind=kind)
            )
            part_of[member] = one.part
    places = [place for one in pools for place in one.places]
    return Plant(
        pools=pools,
        items=items,
        positions={place.position.pk: place.position for place in places},
        parts=Parts(part_of),
        homes={place.position.pk: place.item_id for place in places},
        cover=CoverMap(tuple(edges)),
    )
