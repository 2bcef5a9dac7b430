"""What pools of one kind lend each other: a prior for the rate of one position, or of one part that no position asks for."""

from collections import defaultdict
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from drives.demand.pools import Plant, Pool
from drives.reliability.rate_pooling import PooledRates, pool_rates
from inventory.facts import Fact
from inventory.interchange.vocabulary import Environment

FEWEST_POOLS = 6
"""A narrower family says too little of how far its pools differ."""
HALF_AN_EVENT = 0.5
"""Weight of a prior where none can be fitted: Jeffreys 1946, Proceedings of the Royal Society A 186."""
SHORTEST_EXPOSURE_YEARS = 1e-3
HARSH = frozenset(
    {Environment.WASHDOWN, Environment.CORROSIVE, Environment.CHLORIDE, Environment.ABRASIVE, Environment.HOT}
)


@dataclass(frozen=True)
class Prior:
    """Of a yearly rate: worth so many events in so many years; for pools with places the years are those of one place."""

    shape: float
    years: float
    family: str
    pools: int
    sentence: str


@dataclass(frozen=True)
class Families:
    """The priors of a plant; each family is fitted once, when it is first asked for."""

    plant: Plant
    _fits: dict[Hashable, PooledRates] = field(default_factory=dict)

    def prior_of(self, pool: Pool) -> Prior:
        """The narrowest family that is large enough, differs beyond chance and holds nothing that is unlike the rest."""
        unlike: list[str] = []
        for name, key in _levels(pool, self.plant):
            pools = self._members[key]
            if len(pools) < FEWEST_POOLS:
                continue
            family = self._fit(key)
            if family.cautions:
                unlike.append(f"{name}: {_caution(family.cautions[0])}")
            elif family.common_rate > 0:
                return _fitted(name, family, pool, pools)
        return self._weak(pool, unlike)

    def _fit(self, key: Hashable) -> PooledRates:
        if key not in self._fits:
            pools = self._members[key]
            self._fits[key] = pool_rates(
                [unplanned_events(pool) for pool in pools], exposure=[exposure_years(pool) for pool in pools]
            )
        return self._fits[key]

    @cached_property
    def _members(self) -> Mapping[Hashable, list[Pool]]:
        found: dict[Hashable, list[Pool]] = defaultdict(list)
        for pool in self.plant.pools:
            for _, key in _levels(pool, self.plant):
                found[key].append(pool)
        return found

    def _weak(self, pool: Pool, unlike: list[str]) -> Prior:
        pools = self._members[_levels(pool, self.plant)[-1][1]]
        years = sum(exposure_years(other) for other in pools)
        events = sum(unplanned_events(other) for other in pools)
        why = unlike[0] if unlike else f"{len(pools)} pools of its kind are too few or nothing failed in them"
        if events == 0:
            return _half_an_event_in(years - exposure_years(pool), why)
        return Prior(
            HALF_AN_EVENT,
            HALF_AN_EVENT * years / events,
            "none",
            len(pools),
            f"No family lends its history ({why}); half an event at the plant's mean rate stands in for it.",
        )


def _caution(found: Fact) -> str:
    values = found.values
    if found.code == "group_unlike_others":
        return (
            f"pool {values['group']} ({values['failures']:g} in {values['exposure']:g}, rate {values['rate']:.3g}) is unlike"
            f" the others (p = {values['p_value']:.2g})"
        )
    way = "fall" if found.code == "rates_fall_with_exposure" else "rise"
    return f"rates {way} with exposure (p = {values['p_value']:.2g})"


def _half_an_event_in(years: float, why: str) -> Prior:
    """What others ran without asking counts: else a first event elsewhere would lower the rate of a part without any."""
    return Prior(
        HALF_AN_EVENT,
        max(years, SHORTEST_EXPOSURE_YEARS),
        "none",
        0,
        f"No history is lent ({why}); half an event in the {years:.3g} years of others of its kind stands in for it.",
    )


def unplanned_events(pool: Pool) -> int:
    """Lines of one job are one event, however many pieces it took."""
    return len(pieces_by_event(pool))


def unplanned_pieces(pool: Pool) -> int:
    return sum(asking.quantity for asking in pool.unplanned)


def pieces_by_event(pool: Pool) -> dict[Hashable, int]:
    found: dict[Hashable, int] = defaultdict(int)
    for asking in pool.unplanned:
        found[asking.event] += asking.quantity
    return dict(found)


def exposure_years(pool: Pool) -> float:
    """Position-years; of a part that no position asks for, the years of the record."""
    return pool.position_years if pool.places else pool.record_years


def _levels(pool: Pool, plant: Plant) -> list[tuple[str, Hashable]]:
    """Names and keys of the families that a pool belongs to, the narrowest first."""
    if not pool.places:
        kind = _kind(pool, plant)
        return [(f"{kind} without a position", ("loose", kind))]
    position = pool.places[0].position
    drive = position.drive
    role = str(position.role)
    harsh = bool(HARSH & set(drive.environment))
    pitch = f"{drive.pitch_mm.normalize():f} mm" if drive.pitch_mm is not None else "unknown pitch"
    where = "harsh" if harsh else "ordinary"
    return [
        (f"{role} sprockets of {pitch} in {where} surroundings", ("pitch", role, pitch, harsh)),
        (f"{role} sprockets in {where} surroundings", ("surroundings", role, harsh)),
        (f"{role} sprockets", ("role", role)),
        ("all sprockets", ("all",)),
    ]


def _kind(pool: Pool, plant: Plant) -> str:
    record = plant.items[pool.part].specification
    return str(record.kind) if record is not None else "item"


def _fitted(name: str, family: PooledRates, pool: Pool, pools: list[Pool]) -> Prior:
    if family.alpha is not None and family.beta is not None:
        return Prior(
            family.alpha,
            family.beta,
            name,
            len(pools),
            f"{len(pools)} pools ({name}) lend a prior worth {family.alpha:.3g} events in {family.beta:.3g} years.",
        )
    others = [other for other in pools if other is not pool]
    return Prior(
        max(sum(map(unplanned_events, others)), HALF_AN_EVENT),
        max(sum(map(exposure_years, others)), SHORTEST_EXPOSURE_YEARS),
        name,
        len(pools),
        f"{len(pools)} pools ({name}) differ no more than chance makes them: one rate stands for all,"
        f" {family.common_rate:.3g} a year.",
    )
