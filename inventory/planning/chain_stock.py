"""Chain on the shelves as what it is good for: the jobs that its pieces serve, and the remnants that serve none."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from inventory.models import (
    AVAILABLE_CONDITIONS,
    Item,
    Recommendation,
    StockLevel,
    StockPiece,
    Storeroom,
    Unit,
)
from inventory.models.access_scope import in_storerooms
from inventory.planning.chain_jobs import ChainJobs
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.terms import load_terms
from inventory.stocking.chain_pieces import jobs_served, pieces_left, remnants


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainStock:
    """One item in one storeroom, in conditions that may be issued."""

    item: Item
    storeroom: str
    piece_links: tuple[int, ...]
    """Longest first."""
    reserved: int
    jobs: ChainJobs | None
    """The lengths that jobs took; None where none is on record, and then nothing below is known."""
    serves_jobs: int | None
    """Whole jobs that can be cut from what is not reserved."""
    serves_no_job: int | None
    """Links that are left over then."""
    remnant_links: tuple[int, ...]
    """Pieces shorter than any job on record, longest first: to be used up or scrapped first."""

    @property
    def on_hand(self) -> int:
        return sum(self.piece_links)

    @property
    def remnant_value(self) -> Decimal | None:
        cost = self.item.unit_cost
        return None if cost is None else cost * sum(self.remnant_links)


def chain_stock(*, storeroom: Storeroom | None = None) -> list[ChainStock]:
    """By storeroom and stock number; five queries."""
    pieces = _pieces(storeroom)
    items = Item.objects.in_bulk({item for (item, _), _ in pieces})
    reserved, jobs, joints = _reserved(), _jobs(), load_terms().chain_joints
    found = [
        _stock(items[key[0]], code, tuple(links), reserved.get(key, 0), jobs=jobs.get(key), joints=joints)
        for (key, code), links in pieces.items()
    ]
    return sorted(found, key=lambda one: (one.storeroom, one.item.stock_number))


def _pieces(storeroom: Storeroom | None) -> dict[tuple[ItemStoreroom, str], list[int]]:
    rows = in_storerooms(StockPiece.objects.filter(links__gt=0), "level__storeroom")
    if storeroom is not None:
        rows = rows.filter(level__storeroom=storeroom)
    rows = rows.filter(level__condition__in=AVAILABLE_CONDITIONS).order_by("-links", "pk")
    columns = ("level__item_id", "level__storeroom_id", "level__storeroom__code", "links")
    found: dict[tuple[ItemStoreroom, str], list[int]] = defaultdict(list)
    for item, room, code, links in rows.values_list(*columns):
        found[(item, room), code].append(links)
    return found


def _reserved() -> dict[ItemStoreroom, int]:
    rows = StockLevel.objects.filter(item__unit=Unit.LINK, condition__in=AVAILABLE_CONDITIONS).order_by()
    sums = rows.values_list("item_id", "storeroom_id").annotate(Sum("reserved"))
    return {(item, room): links for item, room, links in sums}


def _jobs() -> dict[ItemStoreroom, ChainJobs]:
    rows = Recommendation.objects.current().filter(item__unit=Unit.LINK).order_by()
    known = rows.values_list("item_id", "storeroom_id", "evidence__chain")
    return {(item, room): ChainJobs(**chain) for item, room, chain in known if chain}


def _stock(
    item: Item, room: str, pieces: tuple[int, ...], reserved: int, *, jobs: ChainJobs | None, joints: int
) -> ChainStock:
    free = pieces_left(pieces, reserved)
    served = None if jobs is None else jobs_served(free, jobs.links_per_job, joints=joints)
    return ChainStock(
        item=item,
        storeroom=room,
        piece_links=pieces,
        reserved=reserved,
        jobs=jobs,
        serves_jobs=served,
        serves_no_job=None if jobs is None or served is None else sum(free) - served * jobs.links_per_job,
        remnant_links=() if jobs is None else remnants(free, jobs.shortest_links),
    )
