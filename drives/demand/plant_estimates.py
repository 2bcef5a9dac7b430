"""What is estimated from the record of the whole plant, up to the end of a month: priors of families, and where records begin.

A failure changes what is kept of its own part; what all parts share stands until the month is over, or until the record
before it is changed.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from hashlib import sha256
from typing import Any

from django.db import models, transaction

from drives.demand.cover import ROWS_AT_ONCE
from drives.demand.pools import load_demand_pools
from drives.demand.rate_priors import PoolFigures, RateFamilies, RateFamily
from drives.demand.record_start import RecordStarts, StartOfRecord, load_set_starts
from drives.models import (
    Area,
    Drive,
    Equipment,
    Installation,
    Plant,
    PlantEstimate,
    PoolEstimate,
    Position,
    Request,
)
from drives.reliability.rate_pooling import PooledRates
from inventory.facts import fact_from_json
from inventory.models import Item, Specification, StockEntry
from inventory.plumbing.content_digest import digest_of_rows
from inventory.stocking.demand_settings import DemandSettings

METHOD = 1
"""Raised when the method changes, so that the next run estimates again."""

CATALOGUE: tuple[type[models.Model], ...] = (Specification, Position, Drive, Equipment, Area, Plant)


@dataclass(frozen=True)
class PlantEstimates:
    until: datetime
    families: RateFamilies
    starts: RecordStarts
    digest: str
    """Of the record that they were made from."""
    is_stored: bool = False


def month_begin(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(day=1, hour=0, minute=0, second=0, microsecond=0)


def plant_estimates(
    as_of: datetime, *, worst_grade: str, settings: DemandSettings, parts: Collection[int] | None = None
) -> PlantEstimates:
    """Those of the month of `as_of`: as stored, unless the record that they rest on was changed since.

    For some `parts` alone the stored ones are taken, whatever was changed.
    """
    until = month_begin(as_of)
    if parts is not None:
        return _of_row(PlantEstimate.objects.get(until=until), list(_figures(parts)))
    found = _digest(until, worst_grade, settings)
    row = PlantEstimate.objects.filter(until=until, inputs_digest=found).first()
    if row is not None:
        return _of_row(row, _figures().iterator(ROWS_AT_ONCE))
    demand = load_demand_pools(until, worst_grade=worst_grade, settings=settings)
    assert demand.starts is not None
    return PlantEstimates(until, RateFamilies.of_record(demand), demand.starts, found)


def _digest(until: datetime, *chosen: object) -> str:
    """Of all that happened until then as it is recorded now, of what the plant is made of, and of what people chose.

    What serves where, and what lies in stock, is taken as it is when the estimates are made.
    """
    units = Installation.objects.filter(installed_at__lte=until)
    rows: list[tuple[models.QuerySet[Any], Iterable[str]]] = [
        (record._base_manager.all(), [one.attname for one in record._meta.concrete_fields])
        for record in CATALOGUE
    ]
    rows += [
        (Item.objects.all(), ("pk", "stock_number", "specification_id", "unit", "merged_into_id")),
        (units, ("pk", "position_id", "item_id", "installed_at", "temporary_until")),
        (
            units.filter(removed_at__lte=until),
            ("pk", "removed_at", "ended_by", "work_order"),
        ),
        (
            Request.objects.standing().until(until),
            ("pk", "at", "item_id", "storeroom_id", "position_id", "quantity", "work_order", "is_planned"),
        ),
        (StockEntry.objects.filter(occurred_at__lte=until), ("pk",)),
    ]
    texts = [digest_of_rows(found, columns) for found, columns in rows]
    return sha256(repr((METHOD, chosen, sorted(load_set_starts().items()), texts)).encode()).hexdigest()


def store_estimates(estimates: PlantEstimates) -> None:
    """In place of those that stood."""
    if estimates.is_stored:
        return
    families = estimates.families
    names = {name: number for number, name in enumerate(families.members)}
    fitted = [{"name": name.as_json(), **_family_json(families.of(name))} for name in names]
    row = PlantEstimate(
        pk=1,
        until=estimates.until,
        inputs_digest=estimates.digest,
        families=fitted,
        starts=_starts_json(estimates.starts),
    )
    pools = [
        PoolEstimate(
            part=part,
            storeroom_id=room,
            family=names[one.family],
            jobs=one.jobs,
            exposure_years=one.exposure_years,
        )
        for (part, room), one in families.figures.items()
    ]
    with transaction.atomic():
        row.save()
        PoolEstimate.objects.all().delete()
        PoolEstimate.objects.bulk_create(pools, batch_size=ROWS_AT_ONCE)


def _family_json(family: RateFamily) -> dict[str, Any]:
    rates = family.rates
    return {
        "pools": family.pools,
        "jobs": family.jobs,
        "exact_years": hex(family.exact_years),
        "rates": [rates.common_rate, rates.alpha, rates.beta],
        "cautions": [caution.as_json() for caution in rates.cautions],
        "unlike": [[*key, caution.as_json()] for key, caution in family.unlike],
    }


def _family_of(stored: Mapping[str, Any]) -> RateFamily:
    common, alpha, beta = stored["rates"]
    cautions = tuple(fact_from_json(one) for one in stored["cautions"])
    return RateFamily(
        pools=stored["pools"],
        jobs=stored["jobs"],
        exact_years=int(stored["exact_years"], 16),
        rates=PooledRates(common, alpha, beta, cautions),
        unlike=tuple(((part, room), fact_from_json(one)) for part, room, one in stored["unlike"]),
    )


def _starts_json(starts: RecordStarts) -> dict[str, Any]:
    return {
        name: [[*key, _start_json(start)] for key, start in found.items()]
        for name, found in (("of", starts.of), ("proposals", starts.proposals))
    }


def _start_json(start: StartOfRecord) -> dict[str, Any]:
    return {
        **asdict(start),
        "at": start.at.isoformat(),
        "reason": start.reason.as_json(),
        "jump": start.jump and start.jump.as_json(),
    }


def _start_of(stored: Mapping[str, Any]) -> StartOfRecord:
    return StartOfRecord(
        at=datetime.fromisoformat(stored["at"]),
        reason=fact_from_json(stored["reason"]),
        is_set=stored["is_set"],
        earlier_days=stored["earlier_days"],
        jump=stored["jump"] and fact_from_json(stored["jump"]),
    )


def _figures(parts: Collection[int] | None = None) -> "models.QuerySet[PoolEstimate, Any]":
    rows = PoolEstimate.objects.order_by()
    chosen = rows if parts is None else rows.filter(part__in=parts)
    return chosen.values_list("part", "storeroom_id", "family", "jobs", "exposure_years")


def _of_row(row: PlantEstimate, pools: Iterable[tuple[int, int, int, int, float]]) -> PlantEstimates:
    names = [fact_from_json(one["name"]) for one in row.families]
    figures = {
        (part, room): PoolFigures(names[family], jobs, years) for part, room, family, jobs, years in pools
    }
    fitted = {name: _family_of(one) for name, one in zip(names, row.families, strict=True)}
    of, proposals = (
        {(room, kind): _start_of(one) for room, kind, one in row.starts[name]} for name in ("of", "proposals")
    )
    starts = RecordStarts(row.until, of, proposals)
    return PlantEstimates(row.until, RateFamilies(figures, fitted), starts, row.inputs_digest, is_stored=True)
