"""What a recommendation is calculated from: demand, item, lead time, terms, and the policy in force."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields
from decimal import Decimal
from functools import cached_property
from typing import Any, NamedTuple

from django.db.models import QuerySet

from inventory.facts import Fact, fact
from inventory.models import Item, StockPolicy
from inventory.planning.chain_jobs import ChainJobs
from inventory.planning.terms import ImportanceTarget, Terms, load_targets, load_terms
from inventory.stocking.demand_models import Demand
from inventory.stocking.demand_settings import SHIPPED
from inventory.stores.lead_times import EmergencyHours, EmergencyTimes, LeadTime, LeadTimes

ItemStoreroom = tuple[int, int]
"""Item and storeroom, by their ids."""


@dataclass(frozen=True, kw_only=True)
class DriveShare:
    """The share of the jobs for a part that stop a drive for one position, and what an hour of it costs; None: not known."""

    drive: str
    position: str
    share: float
    cost_per_hour: Decimal | None
    recorded_per_year: float = 0.0
    """Such stops on record; the share also has those that may come first."""


@dataclass(frozen=True, kw_only=True)
class Downtime:
    """What an hour of a stop for lack of the part costs, as a mean over the drives that it stops."""

    cost_per_hour: Decimal
    currency: str
    stop_share: float = 1.0
    """Of the jobs that need the part: the others are renewals at a chosen time, which stop nothing."""
    drives: tuple[DriveShare, ...] = ()
    """Their shares add up to `stop_share`; a drive without a price counts with the mean of the others."""


class OrderDate(NamedTuple):
    """The last day (ISO) for an order for a position; with `chance` the wear limit comes before the delivery."""

    order_by: str
    position: str
    chance: float | None = None


@dataclass(frozen=True, kw_only=True)
class WearNotice:
    """Wear that inspections see in time: that part of the demand needs no stock, an order in time is enough."""

    wear_share: float
    """Of the demand, between 0 and 1: the share of positions and mechanisms that inspections see coming."""
    notice_days: float
    """From the first inspection that shows it to the limit, less the interval between two inspections."""
    order_by: tuple[OrderDate, ...] = ()
    """Of the orders that inspections call for, the earliest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NearStoreroom:
    """Another storeroom that shares the stock of the part, with the minutes from where it is kept to where it is requested."""

    storeroom_id: int
    code: str
    minutes: int
    stops_per_year: float = 0.0
    """Jobs of the other storeroom that stop a drive while the piece is fetched."""
    fetching_cost: float = 0.0
    """Of these stops in a year, in the currency of the price."""
    holding_cost: float | None = None
    """Of one piece more for a year, as a shelf of its own would need at least; None: the price is not known."""

    def as_json(self) -> dict[str, Any]:
        found = asdict(self)
        return {"storeroom": found.pop("code"), **found}


@dataclass(frozen=True, kw_only=True)
class Need:
    """The demand for a part in a storeroom, pooled over all its stock numbers; no drive is known on this side."""

    item_id: int
    storeroom_id: int
    member_ids: tuple[int, ...]
    """Items that are the same part everywhere, `item_id` among them: their pieces count together."""
    kept_as_id: int | None = None
    """The member that is kept in this one's place; then none of this one is bought again."""
    kept_in: NearStoreroom | None = None
    """The storeroom that keeps it for this one: its need is the same."""
    keeps_for: tuple[NearStoreroom, ...] = ()
    """Storerooms whose demand is part of this one, and whose stock counts here."""
    demand: Demand | None
    """Of unplanned pieces; None where there were no requests and no position could need it."""
    sudden_demand: Demand | None = None
    """The demand without wear that is seen coming; given together with `notice`."""
    model: str
    """`gamma_poisson`, `weibull_renewal`, `intermittent` or `none`."""
    rate_per_year: float
    planned_per_year: float = 0.0
    pieces_per_job: float | None = None
    """Mean of the unplanned jobs on record; of chain 1, None without any."""
    chain: ChainJobs | None = None
    """Of chain: then the demand and both rates are of jobs, not of links."""
    importance: str
    positions: int = 0
    """That need it here and share what is kept."""
    downtime: Downtime | None = None
    tie_share: float = SHIPPED.tie_share
    notice: WearNotice | None = None
    explanation: tuple[Fact, ...] = ()
    cover_explanation: tuple[Fact, ...] = ()
    """Substitutes for it, and what they are worth."""
    evidence: Mapping[str, Any] = field(default_factory=dict)
    """All that the demand was calculated from, as JSON in a fixed order: `pool`, `events`, `lives`, `prior`, `series`, `cover`, …
    Equal evidence, equal need."""

    @property
    def is_kept_here(self) -> bool:
        """Under this number, in this storeroom."""
        return self.kept_as_id is None and self.kept_in is None

    @property
    def storeroom_ids(self) -> tuple[int, ...]:
        """Those whose stock serves this demand."""
        return (self.storeroom_id, *(one.storeroom_id for one in self.keeps_for))

    @property
    def mean_pieces(self) -> float:
        """Of one piece of demand: of chain, the mean links of a job."""
        return 1.0 if self.chain is None else self.chain.mean_links


@dataclass(frozen=True, slots=True)
class PolicyLevels:
    """Order when on hand + on order - reserved has fallen to `reorder_point`, up to `order_up_to`."""

    stocked: bool
    reorder_point: int
    order_up_to: int

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    def of_jobs(self, links: int) -> "PolicyLevels":
        """Levels in jobs as levels in links."""
        if links == 1 or not self.stocked:
            return self
        return PolicyLevels(True, self.reorder_point * links, self.order_up_to * links)

    def in_jobs(self, links: int) -> "PolicyLevels":
        """Levels in links as the jobs that they are enough for."""
        if links == 1 or not self.stocked:
            return self
        point = self.reorder_point // links
        return PolicyLevels(True, point, max(self.order_up_to // links, point + 1))


HOLD_NONE = PolicyLevels(False, -1, 0)
HOLD_ONE = PolicyLevels(True, 0, 1)


def levels_of(row: Any) -> PolicyLevels:
    return PolicyLevels(row.stocked, row.reorder_point, row.order_up_to)


def levels_from_json(figures: Mapping[str, Any]) -> PolicyLevels | None:
    """The levels in figures that were stored as JSON; None where there are none."""
    if not figures:
        return None
    return PolicyLevels(figures["stocked"], figures["reorder_point"], figures["order_up_to"])


def levels_fact(levels: PolicyLevels | None) -> Fact:
    if levels is None:
        return fact("levels_not_set")
    if not levels.stocked:
        return fact("levels_none")
    return fact("levels", reorder_point=levels.reorder_point, order_up_to=levels.order_up_to)


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemDetails:
    stock_number: str
    unit_cost: Decimal | None = None
    currency: str = "EUR"
    holding_reason: str = "usage"
    lifecycle: str = "active"

    @property
    def price(self) -> Decimal | None:
        """Of one piece; a price of 0 counts as not entered."""
        return self.unit_cost if self.unit_cost else None


@dataclass(frozen=True, kw_only=True)
class RecommendationInput:
    """All that one recommendation is calculated from."""

    need: Need
    lead_time: LeadTime | None
    terms: Terms
    target: ImportanceTarget
    item: ItemDetails
    today: PolicyLevels | None = None
    emergency: EmergencyHours | None = None
    """From past emergency orders; used where the terms give no hours."""
    kept_as: str = ""
    """Stock number of the member that is kept in this one's place."""

    @property
    def links_per_job(self) -> int:
        """Of chain, the links in which one piece of demand is counted; 1 of everything else."""
        return 1 if self.need.chain is None else self.need.chain.links_per_job

    @property
    def price(self) -> Decimal | None:
        """Of one piece of demand: of chain, of one job."""
        return None if self.item.price is None else self.item.price * self.links_per_job

    @property
    def hours_to_expedite(self) -> float | None:
        if self.terms.hours_to_expedite is not None:
            return self.terms.hours_to_expedite
        return self.emergency.hours if self.emergency else None

    @property
    def expedite_basis(self) -> Fact:
        if self.terms.hours_to_expedite is not None or self.emergency is None:
            return fact("expedite_hours_from_terms")
        return self.emergency.reason

    @property
    def order_cost(self) -> Decimal | None:
        """Of one order, where it is in the currency of the price."""
        return self.terms.order_cost if self.terms.currency == self.item.currency else None

    @property
    def downtime_per_hour(self) -> Decimal | None:
        """Of a missing piece, in the currency of the price; None where it is not known in it. Not every job stops a drive."""
        downtime = self.need.downtime
        if downtime is None or downtime.currency != self.item.currency:
            return None
        return downtime.cost_per_hour * Decimal(repr(downtime.stop_share))

    @cached_property
    def missing_costs(self) -> tuple[Fact, ...]:
        """What has to be entered before holding can be compared with downtime."""
        missing = []
        if self.item.price is None:
            missing.append(fact("enter_unit_cost", stock_number=self.item.stock_number))
        if self.downtime_per_hour is None:
            missing.append(fact("enter_downtime_cost", currency=self.item.currency))
        if self.hours_to_expedite is None:
            missing.append(fact("enter_hours_to_expedite"))
        return tuple(missing)


@dataclass(frozen=True, kw_only=True)
class PolicyInputs:
    """What all recommendations of one run share, loaded once."""

    lead_times: LeadTimes
    emergencies: EmergencyTimes | None
    terms: Terms
    targets: Mapping[str, ImportanceTarget]
    items: dict[int, ItemDetails]
    policies: dict[ItemStoreroom, PolicyLevels]

    def of(self, need: Need) -> RecommendationInput:
        kept_as = None if need.kept_as_id is None else self.items.get(need.kept_as_id)
        lead_time = self.lead_times.of(need.item_id, need.storeroom_id)
        return RecommendationInput(
            need=need,
            lead_time=lead_time,
            terms=self.terms,
            target=self.targets[need.importance],
            item=self.items[need.item_id],
            today=self.policies.get((need.item_id, need.storeroom_id)),
            emergency=self._emergency(need.item_id, lead_time),
            kept_as=kept_as.stock_number if kept_as else "",
        )

    def _emergency(self, item_id: int, lead_time: LeadTime | None) -> EmergencyHours | None:
        if self.emergencies is None:
            return None
        return self.emergencies.of(item_id, ordinary_days=lead_time.mean_days if lead_time else None)


def load_policy_inputs(
    needs: Sequence[Need],
    *,
    lead_times: LeadTimes,
    emergencies: EmergencyTimes | None,
    items: Collection[int] | None = None,
) -> PolicyInputs:
    """Four queries; `items` are a few that all needs are for."""
    policies, rows = StockPolicy.objects.order_by(), Item.objects.order_by()
    if items is not None:
        policies, rows = policies.filter(item__in=items), rows.filter(pk__in=items)
    kept = {need.kept_as_id for need in needs if need.kept_as_id is not None}
    return PolicyInputs(
        lead_times=lead_times,
        emergencies=emergencies,
        terms=load_terms(),
        targets=load_targets(),
        items=_load_items(rows, {need.item_id for need in needs} | kept),
        policies={(row.item_id, row.storeroom_id): levels_of(row) for row in policies},
    )


def _load_items(items: QuerySet[Item], item_ids: Collection[int]) -> dict[int, ItemDetails]:
    """Filtered here: a list of all ids is longer than a database takes as parameters."""
    rows = items.values("id", *(one.name for one in fields(ItemDetails)))
    return {row.pop("id"): ItemDetails(**row) for row in rows if row["id"] in item_ids}
