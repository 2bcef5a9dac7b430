"""What fits a position or stands in for an item, and do we have it: ranked, explained offers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial

from drives.lessons.track_record import TrackRecord, fitted_by, lives_question
from drives.models import Position
from drives.place.verdict import judge_for_place
from drives.substitutes.companions import Companion, companions_for
from drives.substitutes.fitting_verdict import quote_of
from drives.substitutes.position_requirement import (
    PositionRequirement,
    position_requirement,
    positions_with_requirements,
)
from drives.substitutes.ready_time import DriveSite, ReadyTime, ready_time
from inventory.catalogue.candidates import Candidate, grade_order, judge_candidates
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import SETTINGS, current_practice, practice_of
from inventory.catalogue.ranked_shortlist import NotJudged, Shortlist
from inventory.catalogue.shortlist import tooth_range
from inventory.catalogue.stock_on_hand import (
    CompanionNeeds,
    StockOnHand,
    StockQuestions,
    bushes_of,
    bushes_question,
    stock_of,
    stock_questions,
)
from inventory.facts import Fact, fact
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, MachineShop, PartKind, Storeroom
from inventory.plumbing.joint_statement import Parameters, answers
from inventory.stores.logistics import Logistics, hours_question
from inventory.stores.open_orders import OpenOrder, orders_of, orders_question

MOST_AVAILABLE_SUBSTITUTES = 5
ALL_JUDGED = NotJudged()


@dataclass(frozen=True)
class Offer:
    """One candidate with everything that goes with it."""

    candidate: Candidate
    companions: tuple[Companion, ...]
    ready: ReadyTime
    track_record: TrackRecord | None
    on_order: tuple[OpenOrder, ...] = ()
    quote: Callable[[], str] | None = None
    """Names the verdict of the records; made only where it is shown, as the shelves have a part in the one that ranks."""

    @property
    def verdict_id(self) -> str | None:
        return self.quote() if self.quote else None

    @property
    def is_usable(self) -> bool:
        return self.candidate.verdict.grade is not Grade.UNFIT


@dataclass(frozen=True)
class RankedOffers:
    """The candidates that were judged, best first, with the best of either order and what was left out."""

    required: Requirement
    offers: tuple[Offer, ...] = ()
    best_by_grade: Offer | None = None
    best_by_ready: Offer | None = None
    notes: tuple[Fact, ...] = ()
    place: PositionRequirement | None = None
    left_out: NotJudged = ALL_JUDGED


@dataclass(frozen=True)
class Wanted:
    """How many of the best are asked for, of which kind and order; `also` are stock numbers that are judged in any case.

    `refused` of those that do not fit are judged too, however many fit: a look-alike is worth a warning.
    """

    count: int = 20
    ordering: str = "grade"
    worst_grade: Grade = Grade.UNFIT
    in_stock: bool | None = None
    also: tuple[str, ...] = ()
    refused: int = 0

    def passes(self, offer: Offer) -> bool:
        if GRADE_RANK[offer.candidate.verdict.grade] > GRADE_RANK[self.worst_grade]:
            return False
        return self.in_stock is None or (offer.candidate.available > 0) is self.in_stock


TWENTY_BEST = Wanted()


NO_TIME_ON_LIFTING_DRIVES = ReadyTime(None, reason=fact("lifting_drive_takes_no_substitute"))


def substitutes_for_position(
    position: Position, *, here_id: int | None, at: datetime, wanted: Wanted = TWENTY_BEST
) -> RankedOffers:
    """What could serve, or be mistaken for what serves, at a position: the best of it, and how many were left out.

    The position comes from `positions_with_requirements`. `here_id` is the storeroom whose counter asks; by default the one
    that serves the plant. One query, and two more for each batch of the shortlist: nearly always one.
    """
    place, site, put = position_requirement(position), DriveSite.of(position.drive), Parameters()
    required, duty = place.required, place.duty
    here_id = here_id if here_id is not None else site.storeroom_id
    further = {"bushes": bushes_question(required, put), "lives": lives_question(position, put)}
    known = answers(Item, put, SETTINGS | further)
    practice, fitted = practice_of(known), fitted_by(known["lives"], position, at)
    bushes_of_shaft = bushes_of(known["bushes"], required, practice.thresholds)
    judge_here = partial(judge_for_place, required, duty=duty, practice=practice)

    def offers_of(items: Sequence[Item]) -> list[Offer]:
        keys, needs = [item.pk for item in items], CompanionNeeds.of(required, items, bushes_of_shaft)
        asked = stock_questions(
            keys, needs, limits=practice.thresholds, to_storeroom_id=site.storeroom_id, at_hand=(here_id,)
        )
        stock, logistics, on_order = _lying(asked, keys, site.shop, at)
        bushes = stock.bushes_at_hand()
        candidates = judge_candidates(items, stock, partial(judge_here, bushes=bushes))
        records = fitted.records(keys)
        offers = []
        for candidate in candidates:
            attributes, verdict = candidate.attributes, candidate.verdict
            companions = companions_for(required, attributes, verdict, stock=stock, practice=practice)
            ready = NO_TIME_ON_LIFTING_DRIVES
            if not duty.lifting:
                ready = ready_time(candidate, companions, site=site, logistics=logistics, at=at)
            record, coming = records.get(candidate.item.pk), on_order.get(candidate.item.pk, ())
            quote = partial(_quote, place, candidate, practice)
            offers.append(Offer(_with_caution(candidate, record), companions, ready, record, coming, quote))
        return offers

    listing = Shortlist(
        required=required,
        teeth=tooth_range(required, duty.ratio_tolerance_percent),
        practice=practice,
        judge=partial(judge_here, bushes=bushes_of_shaft),
        bushes=bushes_of_shaft,
        here_id=here_id,
        only_available=wanted.in_stock is True,
        named=wanted.also,
        refused=wanted.refused,
    )
    return _ranked(listing, offers_of, wanted, place=place)


def substitutes_for_item(
    item: Item, *, here_id: int | None, at: datetime, wanted: Wanted = TWENTY_BEST
) -> RankedOffers:
    """Other items judged part for part against this one; no drive is known, so nothing is said about duty."""
    if item.specification is None or item.specification.kind != PartKind.SPROCKET:
        return RankedOffers(Requirement(), notes=(fact("item_is_no_recorded_sprocket"),))
    practice = current_practice()
    required = requirement_of(attributes_of(item.specification))
    judge_part = partial(judge, required, practice=practice)

    def offers_of(items: Sequence[Item]) -> list[Offer]:
        keys, site = [other.pk for other in items], DriveSite(here_id, None, 0)
        asked = stock_questions(keys, limits=practice.thresholds, to_storeroom_id=here_id)
        stock, logistics, on_order = _lying(asked, keys, None, at)
        return [
            Offer(
                candidate,
                (),
                ready_time(candidate, (), site=site, logistics=logistics, at=at),
                None,
                on_order.get(candidate.item.pk, ()),
            )
            for candidate in judge_candidates(items, stock, judge_part)
        ]

    listing = Shortlist(
        required=required,
        teeth=tooth_range(required),
        practice=practice,
        judge=judge_part,
        here_id=here_id,
        only_available=wanted.in_stock is True,
        other_than=item.pk,
        named=wanted.also,
        refused=wanted.refused,
    )
    return _ranked(listing, offers_of, wanted)


def available_substitutes(
    item: Item, position: Position | None, *, here: Storeroom, at: datetime
) -> list[Offer]:
    """What is available anywhere and may serve at the position, else in place of the item: best first, five at most.

    None for a drive that lifts, and none for a bush, a key or chain, whatever sprocket would fit the position. An item that
    does not serve the position itself, such as the other sprocket of the drive, is compared part for part.
    """
    known = Item.objects.with_specification().get(pk=item.pk)
    part = known.specification
    wanted = Wanted(MOST_AVAILABLE_SUBSTITUTES, worst_grade=Grade.NEEDS_REVIEW, in_stock=True)
    place = None if position is None else positions_with_requirements().get(pk=position.pk)
    if part is None or part.kind != PartKind.SPROCKET or (place is not None and place.drive.lifting):
        return []
    if place is not None and position_requirement(place).verdict_of(part).grade is not Grade.UNFIT:
        answer = substitutes_for_position(place, here_id=here.pk, at=at, wanted=wanted)
    else:
        answer = substitutes_for_item(known, here_id=here.pk, at=at, wanted=wanted)
    usable = [offer for offer in answer.offers if offer.is_usable and offer.candidate.available]
    return usable[:MOST_AVAILABLE_SUBSTITUTES]


def _lying(
    asked: StockQuestions, items: Sequence[int], shop: MachineShop | None, at: datetime
) -> tuple[StockOnHand, Logistics, Mapping[int, tuple[OpenOrder, ...]]]:
    """What lies on the shelves, when it can be fetched and what is to come; one query."""
    put = asked.parameters
    further = {"hours": hours_question(put, shop), "orders": orders_question(put, items)}
    rows = answers(Item, put, {**asked.questions, **further}, beginning=asked.beginning)
    stock = stock_of(rows)
    return stock, Logistics.of(stock.storerooms, shop, rows["hours"]), orders_of(rows["orders"], at)


def _quote(place: PositionRequirement, candidate: Candidate, practice: Practice) -> str:
    verdict = judge_for_place(place.required, candidate.attributes, duty=place.duty, practice=practice)
    return quote_of(place.position.tag, candidate.item.stock_number, verdict)


def _with_caution(candidate: Candidate, record: TrackRecord | None) -> Candidate:
    """A caution where it lasted shorter, and a place behind its equals; findings and grade stay as they are."""
    verdict = candidate.verdict
    if record is None or not record.is_caution or record.reason is None or verdict.grade is Grade.UNFIT:
        return candidate
    cautions = (*verdict.cautions, record.reason)
    return replace(candidate, verdict=replace(verdict, cautions=cautions), is_outlasted=record.is_outlasted)


def _ranked(
    listing: Shortlist,
    offers_of: Callable[[Sequence[Item]], list[Offer]],
    wanted: Wanted,
    *,
    place: PositionRequirement | None = None,
) -> RankedOffers:
    """Batches are judged until none of the rest could be among the best that are wanted."""
    key = grade_order(listing.here_id)
    offers: list[Offer] = []
    not_judged = NotJudged()
    for batch in listing.batches(wanted.count):
        offers, not_judged = offers + offers_of(batch.items), batch.not_judged
        passing = sorted(key(offer.candidate) for offer in offers if wanted.passes(offer))
        if (
            batch.bound is not None
            and passing[wanted.count - 1 :]
            and passing[wanted.count - 1] <= batch.bound
        ):
            break
    by_grade = sorted(offers, key=lambda offer: key(offer.candidate))
    by_ready = sorted(by_grade, key=lambda offer: (offer.ready.minutes is None, offer.ready.minutes or 0))
    lifts = place is not None and place.duty.lifting  # No automatic substitute: nothing is put forward.
    return RankedOffers(
        required=listing.required,
        offers=tuple(by_ready if wanted.ordering == "ready" else by_grade),
        best_by_grade=next((offer for offer in by_grade if offer.is_usable and not lifts), None),
        best_by_ready=next((offer for offer in by_ready if offer.ready.minutes is not None), None),
        notes=place.notes if place else (),
        place=place,
        left_out=not_judged,
    )
