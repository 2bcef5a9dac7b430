"""Items that can serve a part's positions when it is out of stock, and what they are worth beside their own work."""

from dataclasses import dataclass

from drives.demand.cover import CoverEdge, grouped
from drives.demand.pools import Pool
from drives.demand.snapshot import DemandSnapshot
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.stocking.cover import expected_shortage, shared_stock

MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class SubstituteCover:
    """An item that can serve some of the positions; it never counts as stock of the part itself."""

    item: str
    grade: str
    work_minutes: int | None
    positions: int
    pieces: int
    averts: float
    """Pieces short in a lead time that it averts here; its own positions are served first, as well as they can be."""
    work_basis: str = ""

    @property
    def reason(self) -> Fact:
        values = {"item": self.item, "positions": self.positions, "grade": self.grade}
        stock = {"pieces": self.pieces, "averted_pieces": self.averts}
        if self.work_minutes:
            work = {"work_minutes": self.work_minutes, "work_basis": self.work_basis}
            return fact("substitute_after_work", **values, **work, **stock)
        return fact("substitute_available", **values, **stock)


def substitute_cover(snapshot: DemandSnapshot, pool: Pool, item_id: int) -> tuple[SubstituteCover, ...]:
    """The items kept anywhere that serve some of the pool's positions, the best first; `item_id` is the item that is kept."""
    lead = snapshot.lead_times.of(item_id, pool.storeroom.pk)
    days = lead.mean_days if lead is not None else snapshot.demand.settings.substitute_days
    edges = grouped(
        (edge.item_id, edge)
        for position in sorted(pool.position_ids)
        for edge in snapshot.demand.cover.items_of(position)
        if edge.item_id in snapshot.kept_items and snapshot.demand.parts.part_of[edge.item_id] != pool.part
    )
    found = [_cover_by(snapshot, item, own, days) for item, own in sorted(edges.items())]
    return tuple(sorted(found, key=_best_first)[:MOST_NAMED])


def _best_first(cover: SubstituteCover) -> tuple[object, ...]:
    return (GRADE_RANK[Grade(cover.grade)], -cover.averts, cover.work_minutes or 0, cover.item)


def _cover_by(
    snapshot: DemandSnapshot, item_id: int, edges: tuple[CoverEdge, ...], days: float
) -> SubstituteCover:
    pieces = max(snapshot.most_kept[item_id], 1)
    worst = max(edges, key=_work)
    return SubstituteCover(
        item=snapshot.demand.items[item_id].stock_number,
        grade=str(worst.grade),
        work_minutes=worst.work_minutes,
        positions=len(edges),
        pieces=pieces,
        averts=_averted(snapshot, item_id, [edge.position_id for edge in edges], pieces=pieces, days=days),
        work_basis=worst.work_basis,
    )


def _work(edge: CoverEdge) -> tuple[int, int]:
    return GRADE_RANK[Grade(edge.grade)], edge.work_minutes or 0


def _averted(
    snapshot: DemandSnapshot, item_id: int, covered: list[int], *, pieces: int, days: float
) -> float:
    """Expected shortage without the cross cover less that with it: a piece that its own positions need averts nothing."""
    demands, part = snapshot.position_demands, snapshot.demand.parts.part_of[item_id]
    own = [position for position in snapshot.positions_of_part.get(part, ()) if position not in covered]
    others = [position for position in covered if position in demands]
    over = [snapshot.demand_over(position, days) for position in [*own, *others]]
    first, every = range(len(own)), range(len(over))
    apart = expected_shortage(shared_stock([pieces], [list(first)], len(over)), over).expected_short
    together = expected_shortage(shared_stock([pieces], [list(every)], len(over)), over).expected_short
    return max(apart - together, 0.0)
