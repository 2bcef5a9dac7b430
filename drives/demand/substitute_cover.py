"""What stands in for a part when its own shelf is empty, and what that is worth beside its own work."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drives.demand.pools import Pool
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.stocking.cover import expected_shortage, shared_stock
from inventory.stocking.lead_time_demand import LeadTimeDemand

if TYPE_CHECKING:
    from drives.demand.needs import Survey

MOST_NAMED = 5
USUAL_WAIT_DAYS = 30.0
"""Over which a second line is valued where the lead time is not known."""


@dataclass(frozen=True, slots=True)
class SecondLine:
    """An item that can serve some of the positions, never counted as stock of the part itself."""

    item: str
    grade: str
    work_minutes: int | None
    positions: int
    pieces: int
    averts: float
    """Pieces short over a lead time that it averts here, its own positions served first as well as they can be."""

    @property
    def sentence(self) -> str:
        work = f" after {self.work_minutes} minutes of work" if self.work_minutes else ""
        places = "1 position" if self.positions == 1 else f"{self.positions} positions"
        return (
            f"{self.item} can stand in at {places}{work} ({self.grade.replace('_', ' ')}): with the {self.pieces} kept of it an"
            f" empty shelf is short of {self.averts:.2g} pieces less in a lead time. It is not counted in the levels."
        )


def second_line(seen: "Survey", pool: Pool, home: int) -> tuple[SecondLine, ...]:
    """The items kept anywhere that serve some of the pool's positions, the best first."""
    here = [place.position.pk for place in pool.places]
    lead = seen.lead_times.of(home, pool.storeroom.pk)
    days = lead.mean_days if lead is not None else USUAL_WAIT_DAYS
    kept = frozenset(item for item, _ in seen.kept)
    others = {
        edge.item_id
        for pk in here
        for edge in seen.plant.cover.items_of(pk)
        if edge.item_id in kept and seen.plant.parts.part_of[edge.item_id] != pool.part
    }
    lines = [_line(seen, item, here, days) for item in sorted(others)]
    return tuple(sorted(lines, key=_best_first)[:MOST_NAMED])


def _best_first(line: SecondLine) -> tuple[object, ...]:
    return (GRADE_RANK[Grade(line.grade)], -line.averts, line.work_minutes or 0, line.item)


def _line(seen: "Survey", item_id: int, here: list[int], days: float) -> SecondLine:
    edges = [edge for edge in seen.plant.cover.positions_of(item_id) if edge.position_id in here]
    pieces = max(sum(most for (item, _), most in seen.levels.items() if item == item_id), 1)
    covered = [edge.position_id for edge in edges]
    worst = max(edges, key=lambda edge: (GRADE_RANK[Grade(edge.grade)], edge.work_minutes or 0))
    return SecondLine(
        item=seen.plant.items[item_id].stock_number,
        grade=str(worst.grade),
        work_minutes=worst.work_minutes,
        positions=len(covered),
        pieces=pieces,
        averts=_averts(seen, item_id, covered, pieces, days),
    )


def _averts(seen: "Survey", item_id: int, covered: list[int], pieces: int, days: float) -> float:
    """Expected shortage without the cross cover less that with it: a piece that its own positions need averts nothing."""
    part = seen.plant.parts.part_of[item_id]
    own = [
        pk
        for pk, home in seen.plant.homes.items()
        if seen.plant.parts.part_of[home] == part and pk in seen.asks and pk not in covered
    ]
    asking = [pk for pk in covered if pk in seen.asks]
    laws: list[LeadTimeDemand] = [seen.asks[pk].over(days) for pk in [*own, *asking]]
    first, every = range(len(own)), range(len(laws))
    apart = expected_shortage(shared_stock([pieces], [list(first)], len(laws)), laws).expected_short
    together = expected_shortage(shared_stock([pieces], [list(every)], len(laws)), laws).expected_short
    return max(apart - together, 0.0)
