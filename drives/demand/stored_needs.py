"""The needs of the last stocking run, stored whole: budget and exposure read them instead of the record."""

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

from django.db import transaction

from drives.demand.downtime import PricedPosition, downtime_at, load_priced_positions
from drives.demand.position_demand import store_demands
from drives.demand.record_part import WHOLE_RECORD, WholeRecord
from drives.demand.recorded_waits import PositionWaits, priced_waits, waits_of
from drives.demand.snapshot import DemandSnapshot
from drives.demand.wear_demand import AgingPool, WorkedOut, look_ahead
from drives.models import Installation, Request, StoredDemand, StoredNeed
from inventory.facts import Fact, fact
from inventory.models import RunState, StockingRun
from inventory.models.access_scope import current_scope, in_storerooms
from inventory.planning.policy_inputs import Need
from inventory.planning.recorded_waits import RecordedWaits
from inventory.planning.terms import load_terms
from inventory.plumbing.many_rows import insert_columns
from inventory.plumbing.stored_form import from_stored, hints_of, to_stored
from inventory.stocking.demand_models import (
    CompoundDemand,
    Demand,
    GammaPoissonDemand,
    GivenDemand,
    IntermittentDemand,
)
from inventory.stores.lead_times import LeadTime

MODELS = {one.__name__: one for one in (GammaPoissonDemand, CompoundDemand, IntermittentDemand)}
DEMANDS = ("demand", "sudden_demand")
APART = frozenset(
    {"item_id", "storeroom_id", "downtime", "explanation", "cover_explanation", "evidence", *DEMANDS}
)
"""In columns of their own, in another form, or said by recommendations alone."""
PLAIN = {one.name: one.default for one in fields(Need) if one.name not in APART}


@dataclass(frozen=True)
class StoredNeeds:
    """As the last run left them; `as_of` is None where there was none."""

    needs: tuple[Need, ...]
    waits: Mapping[str, RecordedWaits]
    """By tag of the position."""
    as_of: datetime | None
    is_record_newer: bool = False
    """Requests or installations were recorded since that nobody has followed."""

    def as_fact(self) -> Fact:
        """As of when the demand was calculated, or that it has to be."""
        if self.as_of is None:
            return fact("demand_not_calculated")
        code = "demand_older_than_record" if self.is_record_newer else "demand_as_of_run"
        return fact(code, as_of=self.as_of.isoformat())


def store_snapshot(
    snapshot: DemandSnapshot,
    needs: Sequence[Need],
    *,
    as_of: datetime,
    record: WholeRecord = WHOLE_RECORD,
) -> None:
    """The demand of every position and part in place of what the last run left: a reader finds the one or the other."""
    demand = snapshot.demand
    keys = {one.tag: pk for pk, one in demand.positions.items()}
    leads = snapshot.lead_times
    # As text, which takes a fraction of the room that its lists and mappings do.
    stored = [json.dumps(_stored(need, leads.of(need.item_id, need.storeroom_id), keys)) for need in needs]
    waits = {pk: to_stored(found) for pk, found in waits_of(demand, record).items()}
    parts = {position: part for position, (part, _) in demand.keys.items()}
    read = set(record.complete(demand.positions))
    wanted = {pk for pk in read if pk not in parts or record.is_wanted(parts[pk])}
    with transaction.atomic(savepoint=False):
        store_demands(
            snapshot.position_demands,
            positions=wanted,
            as_of=as_of,
            waits=waits,
            parts=parts,
            unit_digests=demand.unit_digests,
        )
        for row in StoredDemand.objects.filter(position__in=read - wanted):
            if row.waits != waits.get(row.pk):
                row.waits = waits.get(row.pk)
                row.save(update_fields=["waits"])
        replaced = StoredNeed.objects.all()
        if record.parts is not None:
            replaced = replaced.filter(item__in=demand.wanted_items(record))
        replaced.delete()
        if needs:
            insert_columns(
                StoredNeed,
                {
                    "item_id": [need.item_id for need in needs],
                    "storeroom_id": [need.storeroom_id for need in needs],
                    "as_of": [as_of] * len(needs),
                    "need": stored,
                },
            )


def stored_needs() -> StoredNeeds:
    """Of the storerooms that the caller may see; a fixed number of queries."""
    places, first = load_priced_positions(), StoredNeed.objects.order_by("pk").first()
    rows = in_storerooms(StoredNeed.objects.order_by("item", "storeroom")).values_list(
        "item", "storeroom", "need"
    )
    waits = StoredDemand.objects.filter(waits__isnull=False).values_list("position", "waits")
    return StoredNeeds(
        needs=tuple(_need(*row, places) for row in rows.iterator()),
        waits=priced_waits(
            {pk: from_stored(tuple[PositionWaits, ...], found) for pk, found in waits},
            places,
            load_terms().currency,
            storerooms=current_scope().storerooms,
        ),
        as_of=first.as_of if first else None,
        is_record_newer=first is not None and _is_newer(first.as_of),
    )


def _is_newer(as_of: datetime) -> bool:
    run = StockingRun.objects.filter(state=RunState.DONE).first()
    if run is not None and run.is_behind:
        return True
    since = max(as_of, run.followed_until) if run and run.followed_until else as_of
    changed = (model.objects.filter(updated_at__gt=since).order_by() for model in (Request, Installation))
    return any(rows.exists() for rows in changed)


def _stored(need: Need, lead: LeadTime | None, keys: Mapping[str, int]) -> dict[str, Any]:
    found = {
        name: to_stored(value) for name, usual in PLAIN.items() if (value := getattr(need, name)) != usual
    }
    if need.downtime is not None:
        shares = [[keys[one.position], one.share, one.recorded_per_year] for one in need.downtime.drives]
        found["downtime"] = [need.downtime.currency, shares]
    demands = {name: _stored_demand(demand, lead) for name in DEMANDS if (demand := getattr(need, name))}
    return found | demands


def _stored_demand(demand: Demand, lead: LeadTime | None) -> list[Any]:
    if not isinstance(demand, GivenDemand):
        return [type(demand).__name__, to_stored(demand)]
    assert isinstance(demand.made_from, AgingPool)
    return [
        type(demand.made_from).__name__,
        to_stored(demand.made_from),
        to_stored(_worked_out(demand, lead)),
    ]


def _worked_out(demand: GivenDemand, lead: LeadTime | None) -> WorkedOut:
    known = WorkedOut(rate_per_year=demand.yearly_pieces(0.0))
    if lead is None:
        return known
    # What cannot be worked out is tried again, and said, where it is needed.
    with suppress(ValueError, OverflowError):
        look_ahead(demand, lead)
        return WorkedOut(
            rate_per_year=known.rate_per_year,
            mean_days=lead.mean_days,
            sd_days=lead.sd_days,
            chances=tuple(demand.over(lead.mean_days, lead.sd_days).pmf.tolist()),
            span=demand.span(lead.mean_days) if demand.span else None,
        )
    return known


def _need(
    item_id: int, storeroom_id: int, stored: dict[str, Any], places: Mapping[int, PricedPosition]
) -> Need:
    forms, given = hints_of(Need), dict[str, Any](demand=None)
    for name, value in stored.items():
        if name in DEMANDS:
            given[name] = _demand(*value)
        elif name == "downtime":
            given[name] = downtime_at(value[1], places, value[0])
        else:
            given[name] = from_stored(forms[name], value)
    return Need(item_id=item_id, storeroom_id=storeroom_id, **given)


def _demand(name: str, stored: Any, worked_out: Any = None) -> Demand:
    if name in MODELS:
        found: Demand = from_stored(MODELS[name], stored)
        return found
    pool: AgingPool = from_stored(AgingPool, stored)
    return pool.demand_worked_out(from_stored(WorkedOut, worked_out))
