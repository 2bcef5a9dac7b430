"""Which few items could serve what many serve today: the cover of all positions served that costs least to hold, as groups to act on."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import numpy as np

from drives.assortment.holdings import HeldItem, Holdings, load_holdings
from drives.demand.cover import CoverEdge
from drives.models import StoredDemand
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Importance
from inventory.planning.terms import START_SERVICE, Terms, load_terms
from inventory.progress import Progress, counted, stretches, unreported
from inventory.stocking.base_stock import poisson_base_stock
from inventory.stocking.set_cover import least_cost_cover
from inventory.stores.lead_times import LeadTimes, lead_times

DAYS_PER_YEAR = 365.25
SERVICE = START_SERVICE[Importance.VITAL]
"""Share of lead times without a waiting demand for which levels are compared, the same on both sides."""

MOST_GROUPS = 500
MOST_NAMED = 20


@dataclass(frozen=True, kw_only=True)
class VarietyItem:
    """Levels are reckoned the same way on both sides: over all storerooms, before and after."""

    item_id: int
    stock_number: str
    description: str
    bore_type: str
    unit_cost: Decimal
    pieces: int
    """On hand in the storerooms in scope."""
    level_today: int
    level_after: int
    is_new: bool
    """No storeroom holds it today."""


@dataclass(frozen=True, kw_only=True)
class VarietyGroup:
    """Keep these items instead of those: money at their unit costs, in the currency of the stocking terms."""

    keep: tuple[VarietyItem, ...]
    leave: tuple[VarietyItem, ...]
    positions: int
    """That another item serves afterwards."""
    tags: tuple[str, ...]
    """Of those in scope, the first."""
    worst_grade: str
    most_minutes: int | None
    """Of work for one piece; None where the minutes of one position are not known."""
    lead_time_not_known: int
    """Items whose level is one piece a storeroom, because no lead time is known."""
    value_today: Decimal
    value_after: Decimal
    saving_per_year: Decimal
    """What it costs to hold the difference."""
    value_on_hand: Decimal
    """Of the pieces on hand of those that leave."""


@dataclass(frozen=True, kw_only=True)
class Variety:
    """`cost` and `lower_bound` are of one piece of every item for a year, over all items that were weighed."""

    groups: tuple[VarietyGroup, ...]
    further_groups: int
    saving_per_year: Decimal
    """Of all groups, those not listed as well."""
    positions: int
    weighed: int
    """Items that are asked for first somewhere, and could be left out."""
    kept_anyway: int
    """Asked for first somewhere and not weighed: no price in this currency, or held as insurance or for a project."""
    leave: int
    """Of those weighed, not needed by the cover."""
    cost_today: float
    cost: float
    lower_bound: float
    gap: float
    currency: str
    holding_rate_per_year: float
    service: float = SERVICE
    is_cover_known: bool = True

    @property
    def count(self) -> int:
        """Groups that are listed."""
        return len(self.groups)


def variety(
    as_of: datetime,
    today: date,
    *,
    worst_grade: str,
    most_minutes: int | None = None,
    progress: Progress = unreported,
) -> Variety:
    loaded, chosen, grouped = stretches(progress, 2, 2, 1)
    holdings, terms = load_holdings(today), load_terms()
    loaded(1, 1)
    choice = Choice(holdings, terms, worst_grade, most_minutes, progress=chosen)
    rates = _yearly_rates()
    leads = lead_times(as_of)
    groups = [
        found
        for keep, leave, moved in counted(choice.groups(), grouped)
        # Groups wholly in other plants are not the caller's.
        if any(holdings.positions[position].is_visible for position in moved)
        and (found := _group(choice, keep, leave, moved, rates, leads)).saving_per_year > 0
    ]
    groups.sort(key=lambda one: (-one.saving_per_year, one.leave[0].stock_number))
    return Variety(
        groups=tuple(groups[:MOST_GROUPS]),
        further_groups=max(len(groups) - MOST_GROUPS, 0),
        saving_per_year=sum((one.saving_per_year for one in groups), Decimal(0)),
        positions=len(choice.today),
        weighed=len(choice.weighed),
        kept_anyway=len(choice.kept_anyway),
        leave=len(choice.leaving),
        cost_today=sum(choice.costs[item] for item in choice.weighed),
        cost=choice.found.cost,
        lower_bound=choice.found.lower_bound,
        gap=choice.found.gap,
        currency=terms.currency,
        holding_rate_per_year=terms.holding_rate_per_year,
        is_cover_known=bool(holdings.cover),
    )


class Choice:
    """The least-cost cover of every position that is served today, and who serves what before and after."""

    def __init__(
        self,
        holdings: Holdings,
        terms: Terms,
        worst_grade: str,
        most_minutes: int | None = None,
        *,
        progress: Progress = unreported,
    ) -> None:
        self.holdings, self.terms = holdings, terms
        self._worst, self._most_minutes = GRADE_RANK[Grade(worst_grade)], most_minutes
        self.today = {
            position: edge for position in holdings.cover if (edge := self._today(position)) is not None
        }
        """By position: what is asked for there first."""
        self.costs = {
            item.item_id: float(item.unit_cost or 0) * terms.holding_rate_per_year
            for item in holdings.items.values()
        }
        asked = {edge.item_id for edge in self.today.values()}
        self.weighed = frozenset(item for item in asked if self._is_weighed(holdings.items[item]))
        self.kept_anyway = frozenset(asked - self.weighed)
        self.allowed = {
            position: self._allowed(position)
            for position, edge in self.today.items()
            if edge.item_id in self.weighed
        }
        """By position whose item is weighed: what could serve it within the limits."""
        needs = (frozenset(edge.item_id for edge in edges) for edges in self.allowed.values())
        self.found = least_cost_cover(needs, self.costs, progress=progress)
        self.leaving = self.weighed - self.found.chosen
        self.after = {position: self._after(position, edge) for position, edge in self.today.items()}
        self.served_today, self.served_after = _by_item(self.today), _by_item(self.after)

    def _is_weighed(self, item: HeldItem) -> bool:
        return (
            item.unit_cost is not None
            and item.unit_cost > 0
            and item.currency == self.terms.currency
            and not item.is_kept_for_a_reason
        )

    def _today(self, position: int) -> CoverEdge | None:
        """What is fitted, where it is held; else the best that is held; None where nothing is."""
        held = self.holdings.held_edges(position)
        fitted = self.holdings.fitted.get(position)
        return next((edge for edge in held if edge.item_id == fitted), held[0] if held else None)

    def _allowed(self, position: int) -> list[CoverEdge]:
        """What is asked for today, and whatever is held or general and serves within the limits."""
        today = self.today[position]
        return [
            edge
            for edge in self.holdings.cover[position]
            if edge == today or (self._within(edge) and self._may_take_over(edge.item_id))
        ]

    def _within(self, edge: CoverEdge) -> bool:
        if GRADE_RANK[Grade(edge.grade)] > self._worst:
            return False
        most = self._most_minutes
        return most is None or (edge.work_minutes is not None and edge.work_minutes <= most)

    def _may_take_over(self, item_id: int) -> bool:
        item = self.holdings.items.get(item_id)
        if item is None or not item.is_active or not self._is_weighed(item):
            return False
        return item.is_held or item.is_general

    def _after(self, position: int, today: CoverEdge) -> CoverEdge:
        if today.item_id not in self.leaving:
            return today
        return next(edge for edge in self.allowed[position] if edge.item_id in self.found.chosen)

    def groups(self) -> list[tuple[set[int], set[int], list[int]]]:
        """Items to keep, items to leave, and positions that move, joined where they share an item."""
        linked: dict[int, set[int]] = defaultdict(set)
        for leave in sorted(self.leaving):
            for position in self.served_today[leave]:
                keep = self.after[position].item_id
                linked[leave].add(keep)
                linked[keep].add(leave)
        found, seen = [], set[int]()
        for start in linked:
            if start in seen:
                continue
            seen.add(start)
            todo, together = [start], set[int]()
            while todo:
                together.add(item := todo.pop())
                new = linked[item] - seen
                todo += new
                seen |= new
            leaving = together & self.leaving
            moved = [position for item in leaving for position in self.served_today[item]]
            found.append((together - leaving, leaving, moved))
        return found


def _by_item(served: Mapping[int, CoverEdge]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    for position, edge in served.items():
        found[edge.item_id].append(position)
    return dict(found)


def _group(
    choice: Choice,
    keep: set[int],
    leave: set[int],
    moved: list[int],
    rates: Mapping[int, float],
    leads: LeadTimes,
) -> VarietyGroup:
    levels = [
        _levels(choice.holdings, {item: served.get(item, []) for item in keep | leave}, rates, leads)
        for served in (choice.served_today, choice.served_after)
    ]
    kept, left = (
        tuple(
            _line(choice.holdings.items[item], *(side.get(item, 0) for side in levels))
            for item in sorted(some, key=lambda one: choice.holdings.items[one].stock_number)
        )
        for some in (keep, leave)
    )
    before = sum((one.unit_cost * one.level_today for one in (*kept, *left)), Decimal(0))
    after = sum((one.unit_cost * one.level_after for one in (*kept, *left)), Decimal(0))
    edges = [choice.after[position] for position in moved]
    minutes = [edge.work_minutes for edge in edges]
    known = [one for one in minutes if one is not None]
    visible = [choice.holdings.positions[position] for position in moved]
    return VarietyGroup(
        keep=kept,
        leave=left,
        positions=len(moved),
        tags=tuple(sorted(one.tag for one in visible if one.is_visible)[:MOST_NAMED]),
        worst_grade=max((edge.grade for edge in edges), key=lambda grade: GRADE_RANK[Grade(grade)]),
        most_minutes=max(known) if len(known) == len(minutes) else None,
        lead_time_not_known=sum(leads.of(item, 0) is None for item in keep | leave),
        value_today=before,
        value_after=after,
        saving_per_year=((before - after) * Decimal(repr(choice.terms.holding_rate_per_year))).quantize(
            Decimal("0.01")
        ),
        value_on_hand=sum((one.unit_cost * one.pieces for one in left), Decimal(0)),
    )


def _levels(
    holdings: Holdings, served: Mapping[int, list[int]], rates: Mapping[int, float], leads: LeadTimes
) -> dict[int, int]:
    """Of each item: in every storeroom whose positions it serves, the pieces for the demand of a lead time, at least one."""
    means: dict[tuple[int, int], float] = defaultdict(float)
    for item, positions in served.items():
        for position in positions:
            room = holdings.positions[position].storeroom_id
            lead = leads.of(item, room)
            means[item, room] += rates.get(position, 0.0) * (lead.mean_days if lead else 0.0) / DAYS_PER_YEAR
    pieces = np.maximum(poisson_base_stock(np.array(list(means.values())), SERVICE), 1)
    found: dict[int, int] = defaultdict(int)
    for (item, _), level in zip(means, pieces.tolist(), strict=True):
        found[item] += level
    return found


def _line(item: HeldItem, level_today: int, level_after: int) -> VarietyItem:
    return VarietyItem(
        item_id=item.item_id,
        stock_number=item.stock_number,
        description=item.description,
        bore_type=item.bore_type,
        unit_cost=item.unit_cost or Decimal(0),
        pieces=item.pieces,
        # Held and asked for nowhere first: a piece lies there all the same.
        level_today=max(level_today, int(item.is_held)),
        level_after=level_after,
        is_new=not item.is_held,
    )


def _yearly_rates() -> dict[int, float]:
    """Pieces a year of each position whose part is known, as the last stocking run stored them; wear that is to come is left out."""
    rows: Any = StoredDemand.objects.filter(pieces__isnull=False).values_list(
        "position_id", "pieces", "years", "prior_shape", "prior_years"
    )
    return {
        position: (pieces + shape) / (years + prior_years)
        for position, pieces, years, shape, prior_years in rows
        if years + prior_years
    }
