"""The need for every part in every storeroom: the numbers and the evidence that minimum stock is calculated from."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any

from drives.demand.downtime import downtime_of
from drives.demand.evidence import (
    Evidence,
    accelerating_positions,
    estimates_fact,
    evidence_of,
    record_facts,
)
from drives.demand.item_to_keep import item_to_keep
from drives.demand.model_selection import SelectedModel, select_model
from drives.demand.noticed_wear import InspectedPositions
from drives.demand.pools import Pool
from drives.demand.snapshot import DemandSnapshot
from drives.demand.substitute_cover import substitute_cover
from inventory.facts import Fact, fact
from inventory.planning.policy_inputs import Need

MOST_SUBSTITUTES_EXPLAINED = 3
EVIDENCE_AT_HAND = 256
"""It is read again shortly after it was read first: as many as two of the groups in which a run calculates."""

Made = Callable[[Callable[[], dict[str, Any]]], dict[str, Any]]


def needs_of(snapshot: DemandSnapshot) -> list[Need]:
    """One need for each item of each pool, by item and storeroom."""
    made: Made = lru_cache(maxsize=EVIDENCE_AT_HAND)(lambda make: make())
    found = [
        need for pool, selected in snapshot.selected for need in _of_pool(snapshot, pool, selected, made)
    ]
    return sorted(found, key=lambda need: (need.item_id, need.storeroom_id))


def _of_pool(snapshot: DemandSnapshot, pool: Pool, selected: SelectedModel, made: Made) -> Iterable[Need]:
    """That of the item and storeroom that keep the part, and the same for the others that share it."""
    kept = item_to_keep(snapshot.demand, pool).pk
    need = _need(snapshot, pool, selected, kept, made)
    yield need
    for item_id in _items_in(snapshot, pool, need.storeroom_id) - {kept}:
        yield replace(need, item_id=item_id, kept_as_id=kept, keeps_for=())
    for near in pool.keeps_for:
        home = replace(near, storeroom_id=pool.storeroom.pk, code=pool.storeroom.code)
        there = replace(need, storeroom_id=near.storeroom_id, kept_in=home, keeps_for=())
        for item_id in _items_in(snapshot, pool, near.storeroom_id) or {kept}:
            yield replace(there, item_id=item_id, kept_as_id=None if item_id == kept else kept)


def _items_in(snapshot: DemandSnapshot, pool: Pool, room: int) -> set[int]:
    """Items of the part that are kept in a storeroom, or have levels there."""
    return {item_id for item_id in pool.member_ids if (item_id, room) in snapshot.kept_or_with_levels}


def _outlasted(snapshot: DemandSnapshot, pool: Pool) -> Iterable[Fact]:
    items = snapshot.demand.items
    for item_id, shorter in pool.outlasted.items():
        yield fact(
            "number_outlasted",
            item=items[item_id].stock_number,
            against=tuple(items[other].stock_number for other in shorter.against_ids),
            lives=shorter.lives,
            median_hours=shorter.median_hours,
            against_lives=shorter.against_lives,
            against_median_hours=shorter.against_median_hours,
            p_value=shorter.p_value,
        )


def _need(snapshot: DemandSnapshot, pool: Pool, selected: SelectedModel, item_id: int, made: Made) -> Need:
    importance = snapshot.importances[pool.part]
    inspected = InspectedPositions(snapshot, pool, item_id)
    notice, noticed = inspected.notice()
    sudden = select_model(pool, snapshot.priors.prior_of(pool), without_wear_at=noticed) if notice else None
    cover = substitute_cover(snapshot, pool, item_id)
    read = partial(
        evidence_of,
        snapshot.demand,
        pool,
        selected=selected,
        cover=cover,
        importance=importance,
        inspections=inspected.as_json(),
    )
    return Need(
        item_id=item_id,
        storeroom_id=pool.storeroom.pk,
        member_ids=pool.member_ids,
        demand=selected.demand,
        sudden_demand=sudden.demand if sudden else None,
        model=selected.model,
        rate_per_year=selected.rate_per_year,
        planned_per_year=_planned_pieces(pool) / pool.record_years,
        pieces_per_job=_pieces_per_job(pool),
        chain=pool.chain_jobs,
        importance=importance.importance,
        positions=len(pool.positions),
        downtime=downtime_of(pool, snapshot.demand.positions, snapshot.demand.items[item_id].currency),
        tie_share=pool.settings.tie_share,
        notice=notice,
        keeps_for=pool.keeps_for,
        explanation=(
            *selected.reasons,
            *record_facts(pool),
            *accelerating_positions(pool),
            *_outlasted(snapshot, pool),
            *estimates_fact(snapshot.demand),
            importance.reason,
        ),
        cover_explanation=tuple(one.reason for one in cover[:MOST_SUBSTITUTES_EXPLAINED]),
        evidence=Evidence(partial(made, read)),
    )


def _planned_pieces(pool: Pool) -> int:
    events = pool.in_jobs().events if pool.is_chain else pool.events
    return sum(event.quantity for event in events if event.is_planned)


def _pieces_per_job(pool: Pool) -> float | None:
    """Of chain a job takes one length."""
    if not pool.pieces_of_jobs:
        return None
    return 1.0 if pool.is_chain else pool.unplanned_pieces / len(pool.pieces_of_jobs)
