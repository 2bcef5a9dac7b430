"""The walk: a position or an item in, ranked and explained candidates out; a fixed number of queries."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from drives.lessons.track_record import TrackRecord, track_records
from drives.models import Plant, Position
from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from drives.substitutes.companions import Companion, companions_for
from drives.substitutes.ready import Ready, Site, ready
from drives.substitutes.requirement import PlaceAsked, place_asked
from drives.substitutes.span import teeth_span
from inventory.catalogue.candidates import Candidate, by_grade, judged, shortlist
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.stock_on_hand import CompanionStock
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, PartKind
from inventory.stores.time_to_hand import Logistics


@dataclass(frozen=True)
class Offer:
    """One candidate with everything that goes with it."""

    candidate: Candidate
    companions: tuple[Companion, ...]
    ready: Ready
    track_record: TrackRecord | None


@dataclass(frozen=True)
class Answer:
    """All candidates, best first, with the best of either order."""

    required: Requirement
    offers: tuple[Offer, ...]
    best_by_grade: Offer | None
    best_by_ready: Offer | None
    notes: tuple[str, ...] = ()
    place: PlaceAsked | None = None


def substitutes_for_position(
    position: Position, *, here_id: int | None, at: datetime, ordering: str = "grade"
) -> Answer:
    """Every item that could serve, or be mistaken for one that serves, at a position.

    The position is loaded with its drive and the drive's positions. `here_id` is the storeroom whose counter asks;
    by default the one that serves the plant. The number of queries does not depend on the number of candidates.
    """
    place = place_asked(position)
    practice, companion_stock, logistics = current_practice(), CompanionStock.load(), Logistics.load()
    bushes = companion_stock.bushes_at_hand()
    items = shortlist(place.required, teeth_span(place.required, place.duty), practice)
    candidates = judged(
        items,
        lambda offered: judge_for_place(
            place.required, offered, duty=place.duty, practice=practice, bushes=bushes
        ),
    )
    plant = position.drive.equipment.area.plant
    site = Site(plant.storeroom_id, _shop_id(plant), position.drive.fitting_minutes)
    history = track_records(position, items, at)
    offers = [
        _offer(candidate, place, companion_stock, site, logistics, at, history) for candidate in candidates
    ]
    return _ranked(
        offers, place.required, here_id if here_id is not None else plant.storeroom_id, ordering, place
    )


def _shop_id(plant: Plant) -> int | None:
    """The plant's own shop, or the one that works for its storeroom."""
    if plant.machine_shop_id is not None or plant.storeroom is None:
        return plant.machine_shop_id
    return plant.storeroom.machine_shop_id


def substitutes_for_item(item: Item, *, here_id: int | None, at: datetime, ordering: str = "grade") -> Answer:
    """Every other item judged part for part against this one; nothing is known of a drive, so nothing about its duty."""
    if item.specification is None or item.specification.kind != PartKind.SPROCKET:
        return Answer(
            Requirement(),
            (),
            None,
            None,
            notes=("Only sprockets with a specification have substitutes here.",),
        )
    practice, logistics = current_practice(), Logistics.load()
    required = requirement_of(attributes_of(item.specification))
    items = [
        other for other in shortlist(required, teeth_span(required, Duty()), practice) if other.pk != item.pk
    ]
    candidates = judged(items, lambda offered: judge(required, offered, practice=practice))
    site = Site(here_id, None, 0)
    offers = [
        Offer(candidate, (), ready(candidate, (), site, logistics, at), None) for candidate in candidates
    ]
    return _ranked(offers, required, here_id, ordering, None)


def _offer(
    candidate: Candidate,
    place: PlaceAsked,
    stock: CompanionStock,
    site: Site,
    logistics: Logistics,
    at: datetime,
    history: dict[int, TrackRecord],
) -> Offer:
    links = candidate.verdict.consequences.chain_links
    companions = companions_for(place.required, candidate.attributes, candidate.verdict, links, stock)
    soon = (
        Ready(None, reason="This drive lifts: no substitute is put forward.")
        if place.duty.lifting
        else ready(candidate, companions, site, logistics, at)
    )
    record = history.get(candidate.item.pk)
    return Offer(_with_evidence(candidate, record), companions, soon, record)


def _with_evidence(candidate: Candidate, record: TrackRecord | None) -> Candidate:
    """A caution where it lasted shorter; findings and grade stay as they are."""
    verdict = candidate.verdict
    if record is None or record.reason is None or record.outcome is None or verdict.grade is Grade.UNFIT:
        return candidate
    cautions = (*verdict.cautions, record.reason)
    return replace(candidate, verdict=replace(verdict, cautions=cautions))


def _ranked(
    offers: list[Offer], required: Requirement, here_id: int | None, ordering: str, place: PlaceAsked | None
) -> Answer:
    grade_key = by_grade(here_id)
    grade_order = sorted(offers, key=lambda offer: grade_key(offer.candidate))
    ready_order = sorted(offers, key=_ready_key(grade_key))
    lifts = place is not None and place.duty.lifting  # No automatic substitute: nothing is put forward.
    usable = [
        offer for offer in grade_order if offer.candidate.verdict.grade is not Grade.UNFIT and not lifts
    ]
    soonest = [offer for offer in ready_order if offer.ready.minutes is not None]
    return Answer(
        required=required,
        offers=tuple(ready_order if ordering == "ready" else grade_order),
        best_by_grade=usable[0] if usable else None,
        best_by_ready=soonest[0] if soonest else None,
        notes=place.notes if place else (),
        place=place,
    )


def _ready_key(grade_key: Callable[[Candidate], tuple[object, ...]]) -> Callable[[Offer], tuple[object, ...]]:
    def key(offer: Offer) -> tuple[object, ...]:
        return (offer.ready.minutes is None, offer.ready.minutes or 0, *grade_key(offer.candidate))

    return key
