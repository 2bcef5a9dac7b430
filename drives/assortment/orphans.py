"""Pieces that no position asks for, single covers that stand still, and positions that nothing on any shelf serves."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.db.models import F, Max, Q, Sum

from drives.assortment.holdings import HeldItem, Holdings, UsedPosition, load_holdings
from drives.models import Installation
from inventory.interchange.vocabulary import BoreType
from inventory.models import Item, PartKind, StockEntry, StockLevel
from inventory.models.access_scope import in_plants, in_storerooms
from inventory.progress import Progress, unreported

STILL_AFTER = timedelta(days=730)
"""Without an issue for so long, an item stands still: common practice, no source."""

MOST_LINES = 500
MOST_NAMED = 5
AT_ONCE = 2_000


class OrphanAdvice(StrEnum):
    KEEP = "keep"
    """The only item on any shelf that serves a vital position."""
    OFFER = "offer"
    """Positions of other storerooms could use it."""
    RUN_DOWN = "run_down"
    DESCRIBE = "describe"
    """Too little is recorded of it to say that nothing needs it."""
    USE_UP = "use_up"
    """It is not active any more: nothing is left to decide."""


@dataclass(frozen=True, kw_only=True)
class Orphan:
    """An item in one storeroom: no position that this storeroom serves asks for it, even after work; or it stands still and is kept."""

    item_id: int
    stock_number: str
    description: str
    storeroom: str
    pieces: int
    value: Decimal | None
    currency: str
    last_issued_on: date | None
    advice: OrphanAdvice
    positions_elsewhere: int
    """In use and served by it, in plants of other storerooms."""
    positions: tuple[str, ...]
    """Vital ones that only this item serves."""


@dataclass(frozen=True, kw_only=True)
class Donor:
    """A unit that is fitted where it is not needed now; taking it leaves that drive without."""

    position: str
    drive: str
    item: str
    grade: str
    is_standby: bool
    """Of a standby machine; else its drive is out of use."""


@dataclass(frozen=True, kw_only=True)
class Hole:
    """A position in use of which no storeroom has an available piece of anything that serves it."""

    position: str
    criticality: str
    in_catalogue: int
    """Items that serve it and lie nowhere."""
    donors: tuple[Donor, ...]
    """The last resort; none for a lifting drive."""


@dataclass(frozen=True, kw_only=True)
class OrphansAndHoles:
    orphans: tuple[Orphan, ...]
    orphan_count: int
    insurance: tuple[Orphan, ...]
    """Those to keep."""
    insurance_count: int
    orphan_value: Decimal
    """Of those to offer or run down, in the currency of the stocking terms."""
    holes: tuple[Hole, ...]
    hole_count: int
    currency: str
    is_cover_known: bool


def orphans_and_holes(today: date, *, currency: str, progress: Progress = unreported) -> OrphansAndHoles:
    """A fixed number of queries beside those for the last issues; linear in the rows of cover and stock."""
    holdings = load_holdings(today)
    progress(1, 3)
    every = _orphans(holdings, today)
    progress(2, 3)
    found = [one for one in every if one.advice != OrphanAdvice.KEEP]
    insurance = [one for one in every if one.advice == OrphanAdvice.KEEP]
    holes = _holes(holdings, today)
    worth = (
        one.value
        for one in found
        if one.value
        and one.currency == currency
        and one.advice in (OrphanAdvice.OFFER, OrphanAdvice.RUN_DOWN)
    )
    return OrphansAndHoles(
        orphans=tuple(found[:MOST_LINES]),
        orphan_count=len(found),
        insurance=tuple(insurance[:MOST_LINES]),
        insurance_count=len(insurance),
        orphan_value=sum(worth, Decimal(0)),
        holes=tuple(holes[:MOST_LINES]),
        hole_count=len(holes),
        currency=currency,
        is_cover_known=bool(holdings.cover),
    )


def _orphans(holdings: Holdings, today: date) -> list[Orphan]:
    """The greatest value first."""
    rooms_asking: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for position, edges in holdings.cover.items():
        for edge in edges:
            rooms_asking[edge.item_id][holdings.positions[position].storeroom_id] += 1
    single = _single_covers(holdings)
    rows: Any = (
        in_storerooms(StockLevel.objects.available())
        .filter(item__specification__kind=PartKind.SPROCKET)
        .order_by()
        .values_list("item", "storeroom", "storeroom__code")
        .annotate(pieces_free=Sum(F("on_hand") - F("reserved")))
    )
    stock = [row for row in rows if row[0] in single or not rooms_asking.get(row[0], {}).get(row[1])]
    issued = _last_issues({row[0] for row in stock})
    described = _described({row[0] for row in stock})
    found = []
    for item_id, room, code, pieces in stock:
        item, last = holdings.items[item_id], issued.get((item_id, room))
        if item_id in single and last is not None and last > today - STILL_AFTER:
            continue
        elsewhere = sum(n for other, n in rooms_asking.get(item_id, {}).items() if other != room)
        tags = sorted(one.tag for one in single.get(item_id, ()) if one.is_visible)
        advice = _advice(
            item,
            is_only_one=item_id in single,
            is_asked_elsewhere=elsewhere > 0,
            is_described=item_id in described,
        )
        found.append(
            Orphan(
                item_id=item_id,
                stock_number=item.stock_number,
                description=item.description,
                storeroom=code,
                pieces=pieces,
                value=None if item.unit_cost is None else item.unit_cost * pieces,
                currency=item.currency,
                last_issued_on=last,
                advice=advice,
                positions_elsewhere=elsewhere,
                positions=tuple(tags[:MOST_NAMED]),
            )
        )
    found.sort(key=lambda one: (-(one.value or Decimal(0)), one.stock_number, one.storeroom))
    return found


def _advice(
    item: HeldItem, *, is_only_one: bool, is_asked_elsewhere: bool, is_described: bool
) -> OrphanAdvice:
    if is_only_one:
        return OrphanAdvice.KEEP
    if not item.is_active:
        return OrphanAdvice.USE_UP
    if is_asked_elsewhere:
        return OrphanAdvice.OFFER
    return OrphanAdvice.RUN_DOWN if is_described else OrphanAdvice.DESCRIBE


def _single_covers(holdings: Holdings) -> dict[int, list[UsedPosition]]:
    """By item: the vital positions for which nothing else lies on any shelf, in scope or not."""
    on_shelves = _on_shelves()
    found: dict[int, list[UsedPosition]] = defaultdict(list)
    for position, edges in holdings.cover.items():
        if holdings.positions[position].is_vital:
            there = [edge.item_id for edge in edges if edge.item_id in on_shelves]
            if len(there) == 1:
                found[there[0]].append(holdings.positions[position])
    return found


def _on_shelves() -> set[int]:
    return set(StockLevel.objects.available().order_by().values_list("item", flat=True))


def _last_issues(items: Collection[int]) -> dict[tuple[int, int], date]:
    found: dict[tuple[int, int], date] = {}
    ordered = sorted(items)
    for start in range(0, len(ordered), AT_ONCE):
        rows: Any = (
            StockEntry.objects.issues()
            .filter(item__in=ordered[start : start + AT_ONCE])
            .order_by()
            .values_list("item", "storeroom")
            .annotate(last=Max("occurred_at"))
        )
        found |= {(item, room): last.date() for item, room, last in rows}
    return found


def _described(items: Collection[int]) -> set[int]:
    """Those of which chain, teeth and bore are recorded."""
    spec, found, ordered = "specification__", set[int](), sorted(items)
    rimmed = Q(**{f"{spec}teeth__isnull": False}) & (
        ~Q(**{f"{spec}chain_designation": ""}) | Q(**{f"{spec}pitch_mm__isnull": False})
    )
    bored = ~Q(**{f"{spec}bore_type": ""}) & (
        ~Q(**{f"{spec}bore_type": BoreType.FINISHED.value}) | Q(**{f"{spec}bore_mm__isnull": False})
    )
    for start in range(0, len(ordered), AT_ONCE):
        some = Item.objects.filter(rimmed & bored, pk__in=ordered[start : start + AT_ONCE])
        found |= set(some.order_by().values_list("pk", flat=True))
    return found


def _holes(holdings: Holdings, today: date) -> list[Hole]:
    """Vital ones first; positions without any cover stand after those for which something could be bought."""
    on_shelves = _on_shelves()
    empty = [
        one
        for one in holdings.positions.values()
        if one.is_visible
        and not any(edge.item_id in on_shelves for edge in holdings.cover.get(one.position_id, ()))
    ]
    donors = _donors(today)
    found = [
        Hole(
            position=one.tag,
            criticality=one.criticality,
            in_catalogue=len(holdings.cover.get(one.position_id, ())),
            donors=() if one.is_lifting else tuple(_donors_of(one, holdings, donors)),
        )
        for one in empty
    ]
    ranks = {"vital": 0, "essential": 1, "": 2, "desirable": 3}
    return sorted(found, key=lambda one: (ranks[one.criticality], not one.in_catalogue, one.position))


def _donors(today: date) -> Mapping[int, list[tuple[int, str, str, bool]]]:
    """By item: position, its tag, its drive and whether it is of a standby machine; never of a lifting drive."""
    drive = "position__drive__"
    idle = (
        Q(position__in_use_until__lt=today)
        | Q(**{f"{drive}in_use_until__lt": today})
        | Q(**{f"{drive}equipment__standby": True})
    )
    rows = in_plants(
        Installation.objects.still_fitted().filter(idle, item__isnull=False, **{f"{drive}lifting": False}),
        f"{drive}equipment__area__plant",
    )
    columns = ("item_id", "position_id", "position__tag", f"{drive}tag", f"{drive}equipment__standby")
    found: dict[int, list[tuple[int, str, str, bool]]] = defaultdict(list)
    for item, *rest in rows.order_by("position__tag").values_list(*columns):
        found[item].append(tuple(rest))
    return found


def _donors_of(
    hole: UsedPosition, holdings: Holdings, donors: Mapping[int, list[tuple[int, str, str, bool]]]
) -> Iterable[Donor]:
    places = (
        (edge, place)
        for edge in holdings.cover.get(hole.position_id, ())
        for place in donors.get(edge.item_id, ())
    )
    others = [(edge, place) for edge, place in places if place[0] != hole.position_id]
    for edge, (_, tag, drive, is_standby) in others[:MOST_NAMED]:
        yield Donor(
            position=tag,
            drive=drive,
            item=holdings.items[edge.item_id].stock_number,
            grade=edge.grade,
            is_standby=is_standby,
        )
