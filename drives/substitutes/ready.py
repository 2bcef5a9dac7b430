"""How soon the drive runs with a candidate: the slowest of everything needed, then the shop, then fitting."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from drives.substitutes.companions import Companion
from inventory.catalogue.candidates import Candidate
from inventory.interchange.vocabulary import Grade
from inventory.stores.time_to_hand import Logistics, minutes_at_the_drive

ESTIMATED_FITTING_MINUTES = 45
"""Where a drive has none recorded: an estimate, common practice and no source; the answer says which it is."""


@dataclass(frozen=True)
class Site:
    """Where the drive stands, seen from the storerooms."""

    storeroom_id: int | None
    machine_shop_id: int | None
    fitting_minutes: int | None


@dataclass(frozen=True)
class Ready:
    """Minutes until the drive runs, and what they are made of; `minutes` is None where something is not known."""

    minutes: int | None
    fetch_minutes: int | None = None
    shop_done_minutes: int | None = None
    companions_minutes: int | None = None
    at_drive_minutes: int | None = None
    fitting_basis: str = "recorded"
    from_storeroom: str | None = None
    reason: str = ""


def ready(
    candidate: Candidate, companions: tuple[Companion, ...], site: Site, logistics: Logistics, at: datetime
) -> Ready:
    """Ready minutes of one candidate at a moment; queries nothing."""
    if candidate.verdict.grade is Grade.UNFIT:
        return Ready(None, reason="It does not fit.")
    if site.storeroom_id is None:
        return Ready(None, reason="The storeroom that serves this plant is not recorded.")
    sources = [shelf.storeroom_id for shelf in candidate.shelves if shelf.available > 0]
    if not sources:
        return Ready(None, reason="None is free on any shelf.")
    soonest = logistics.soonest(sources, site.storeroom_id, at)
    if soonest is None:
        return Ready(None, reason="The minutes on the way, or the storeroom's hours, are not recorded.")
    return _with_work(candidate, companions, site, logistics, at, soonest)


def _with_work(
    candidate: Candidate,
    companions: tuple[Companion, ...],
    site: Site,
    logistics: Logistics,
    at: datetime,
    soonest: tuple[datetime, int],
) -> Ready:
    fetched, source = soonest
    fetch = _minutes(fetched - at)
    room = logistics.storerooms[source].code
    worked = logistics.worked_at(site.machine_shop_id, fetched, candidate.verdict.work)
    if worked is None:
        return Ready(
            None,
            fetch_minutes=fetch,
            from_storeroom=room,
            reason="When the shop could do the work is not known.",
        )
    arrived, short = _companions_at(companions, site, logistics, at)
    if arrived is None:
        return Ready(
            None,
            fetch_minutes=fetch,
            shop_done_minutes=_minutes(worked - at),
            from_storeroom=room,
            reason=short,
        )
    return _sum(candidate, site, at, fetch, worked, arrived, room)


def _sum(
    candidate: Candidate, site: Site, at: datetime, fetch: int, worked: datetime, arrived: datetime, room: str
) -> Ready:
    spot = minutes_at_the_drive(candidate.verdict.work)
    fitting = site.fitting_minutes if site.fitting_minutes is not None else ESTIMATED_FITTING_MINUTES
    at_drive = None if spot is None else spot + fitting
    latest = max(worked, arrived)
    return Ready(
        minutes=None if at_drive is None else _minutes(latest - at) + at_drive,
        fetch_minutes=fetch,
        shop_done_minutes=_minutes(worked - at),
        companions_minutes=_minutes(arrived - at),
        at_drive_minutes=at_drive,
        fitting_basis="recorded" if site.fitting_minutes is not None else "estimate",
        from_storeroom=room,
        reason="" if at_drive is not None else "The plant has no time for a step at the drive.",
    )


def _companions_at(
    companions: tuple[Companion, ...], site: Site, logistics: Logistics, at: datetime
) -> tuple[datetime | None, str]:
    """When the last of the things that must be fetched is there."""
    latest = at
    for companion in companions:
        if not companion.must_fetch:
            continue
        arrival = logistics.soonest(companion.serving_storerooms(), site.storeroom_id or 0, at)
        if arrival is None:
            return (
                None,
                f"The {companion.kind.replace('_', ' ')} ({companion.needed}) is not free on a shelf that can be reached.",
            )
        latest = max(latest, arrival[0])
    return latest, ""


def _minutes(span: timedelta) -> int:
    return ceil(span.total_seconds() / 60)
