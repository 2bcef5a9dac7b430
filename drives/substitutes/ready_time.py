"""How soon the drive runs with a candidate: the slowest of everything needed, then the shop, then fitting."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil
from typing import Any

from drives.models import Drive
from drives.substitutes.companions import Companion
from inventory.catalogue.candidates import Candidate
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Grade
from inventory.models import MachineShop
from inventory.stores.logistics import Arrival, Logistics, minutes_at_the_drive

ESTIMATED_FITTING_MINUTES = 45
"""Where a drive has none recorded: an estimate, common practice and no source; the answer says which it is."""


@dataclass(frozen=True)
class DriveSite:
    """Where a drive stands: the storeroom that serves it, the shop that works for it, the minutes to fit a sprocket."""

    storeroom_id: int | None
    shop: MachineShop | None
    fitting_minutes: int | None

    @classmethod
    def of(cls, drive: Drive) -> "DriveSite":
        """The plant's own shop, or the one that works for its storeroom."""
        plant = drive.equipment.area.plant
        shop = plant.machine_shop or (plant.storeroom.machine_shop if plant.storeroom else None)
        return cls(plant.storeroom_id, shop, drive.fitting_minutes)


@dataclass(frozen=True)
class ReadyTime:
    """Minutes until the drive runs, and what they are made of; where they are not known, `reason` says why."""

    minutes: int | None
    fetch_minutes: int | None = None
    shop_done_minutes: int | None = None
    companions_minutes: int | None = None
    at_drive_minutes: int | None = None
    fitting_basis: str = "recorded"
    from_storeroom: str | None = None
    reason: Fact | None = None


def ready_time(
    candidate: Candidate,
    companions: tuple[Companion, ...],
    *,
    site: DriveSite,
    logistics: Logistics,
    at: datetime,
) -> ReadyTime:
    """Ready time of one candidate at a moment; no query."""
    arrival = _arrival(candidate, site, logistics, at)
    if isinstance(arrival, Fact):
        return ReadyTime(None, reason=arrival)
    known: dict[str, Any] = {
        "fetch_minutes": _minutes(arrival.at - at),
        "from_storeroom": arrival.storeroom,
    }
    done_at = logistics.shop_done_at(arrival.at, candidate.verdict.work)
    if done_at is None:
        return ReadyTime(None, **known, reason=fact("shop_time_not_known"))
    known["shop_done_minutes"] = _minutes(done_at - at)
    gathered_at = _companions_at(companions, logistics, at)
    if isinstance(gathered_at, Fact):
        return ReadyTime(None, **known, reason=gathered_at)
    known["companions_minutes"] = _minutes(gathered_at - at)
    return _fitted(candidate, site, _minutes(max(done_at, gathered_at) - at), known)


def _arrival(candidate: Candidate, site: DriveSite, logistics: Logistics, at: datetime) -> Arrival | Fact:
    if candidate.verdict.grade is Grade.UNFIT:
        return fact("candidate_does_not_fit")
    if site.storeroom_id is None:
        return fact("plant_storeroom_not_recorded")
    available = [shelf for shelf in candidate.shelves if shelf.available > 0]
    if not available:
        return fact("none_available")
    return logistics.first_arrival(available, at) or fact("transfer_time_or_hours_not_recorded")


def _companions_at(companions: tuple[Companion, ...], logistics: Logistics, at: datetime) -> datetime | Fact:
    """When the last of the companions that must be fetched is there."""
    latest = at
    for companion in companions:
        if companion.must_fetch:
            arrival = logistics.first_arrival((row.shelf for row in companion.serving_shelves), at)
            if arrival is None:
                return fact("companion_not_available", kind=companion.kind, needed=companion.needed)
            latest = max(latest, arrival.at)
    return latest


def _fitted(candidate: Candidate, site: DriveSite, gathered_minutes: int, known: dict[str, Any]) -> ReadyTime:
    is_recorded = site.fitting_minutes is not None
    fitting = site.fitting_minutes if site.fitting_minutes is not None else ESTIMATED_FITTING_MINUTES
    steps = minutes_at_the_drive(candidate.verdict.work)
    at_drive = None if steps is None else steps + fitting
    return ReadyTime(
        minutes=None if at_drive is None else gathered_minutes + at_drive,
        at_drive_minutes=at_drive,
        fitting_basis="recorded" if is_recorded else "estimate",
        reason=fact("time_of_a_step_not_recorded") if at_drive is None else None,
        **known,
    )


def _minutes(duration: timedelta) -> int:
    return ceil(duration.total_seconds() / 60)
