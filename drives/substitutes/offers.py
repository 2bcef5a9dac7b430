"""What fits a position or stands in for an item, and do we have it: ranked, explained offers."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import Any

from drives.lessons.track_record import FittedHere, TrackRecord, fitted_by, lives_question
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
from drives.substitutes.rules_here import RulesHere, rules_question
from inventory.catalogue.candidates import (
    Candidate,
    Judge,
    grade_order,
    judge_candidates,
    place_with,
    sprocket_of,
)
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.grade_bound import GRADE_STEP, class_of
from inventory.catalogue.plant_practice import SETTINGS, practice_of
from inventory.catalogue.ranked_shortlist import SPARE, NotJudged, Shortlist, Shortlisted, ShortlistedItem
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
from inventory.interchange.bushing import BushesAtHand, is_bushed
from inventory.interchange.findings import Verdict
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, Lifecycle, MachineShop, PartKind, Storeroom
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
        """A blocked item is shown in its place, and never put forward."""
        is_blocked = self.candidate.item.lifecycle == Lifecycle.BLOCKED
        return self.candidate.verdict.grade is not Grade.UNFIT and not is_blocked


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
        return self.takes(offer.candidate.verdict.grade, is_available=offer.candidate.available > 0)

    def takes(self, grade: Grade, *, is_available: bool) -> bool:
        if GRADE_RANK[grade] > GRADE_RANK[self.worst_grade]:
            return False
        return self.in_stock is None or is_available is self.in_stock


TWENTY_BEST = Wanted()


NO_TIME_ON_LIFTING_DRIVES = ReadyTime(None, reason=fact("lifting_drive_takes_no_substitute"))


def substitutes_for_position(
    position: Position, *, here_id: int | None, at: datetime, wanted: Wanted = TWENTY_BEST
) -> RankedOffers:
    """What could serve, or be mistaken for what serves, at a position: the best of it, and how many were left out.

    The position comes from `positions_with_requirements`. `here_id` is the storeroom whose counter asks; by default the one
    that serves the plant. Three queries.
    """
    place, site, put = position_requirement(position), DriveSite.of(position.drive), Parameters()
    required, duty = place.required, place.duty
    here_id = here_id if here_id is not None else site.storeroom_id
    further = {"bushes": bushes_question(required, put), "lives": lives_question(position, put)}
    further["item_rules"] = rules_question(put, position)
    known = answers(Item, put, SETTINGS | further)
    practice, fitted = practice_of(known), fitted_by(known["lives"], position, at)
    bushes_of_shaft = bushes_of(known["bushes"], required, practice.thresholds)
    judge_here = OncePerPart(partial(judge_for_place, required, duty=duty, practice=practice))
    rules = RulesHere.at_position(known["item_rules"], position, at, judge_here)

    def offers_of(items: Sequence[Item]) -> list[Offer]:
        keys, needs = [item.pk for item in items], CompanionNeeds.of(required, items, bushes_of_shaft)
        asked = stock_questions(
            keys, needs, limits=practice.thresholds, to_storeroom_id=site.storeroom_id, at_hand=(here_id,)
        )
        stock, logistics, on_order = _lying(asked, keys, site.shop, at)
        bushes = stock.bushes_at_hand()
        candidates = judge_candidates(items, stock, rules.judging(partial(judge_here, bushes=bushes)))
        records = fitted.records(keys)
        offers = []
        for candidate in candidates:
            attributes, verdict = candidate.attributes, candidate.verdict
            companions = companions_for(required, attributes, verdict, stock=stock, practice=practice)
            ready = NO_TIME_ON_LIFTING_DRIVES
            if not duty.lifting:
                ready = ready_time(candidate, companions, site=site, logistics=logistics, at=at)
            record, coming = records.get(candidate.item.pk), on_order.get(candidate.item.pk, ())
            quote = partial(_quote, position.tag, candidate, rules.judging(judge_here))
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
        named=(*wanted.also, *rules.named),
        ruled=rules.specifications,
        refused=wanted.refused,
    )
    return _ranked(listing, offers_of, wanted, rules, place=place, fitted=fitted)


def substitutes_for_item(
    item: Item, *, here_id: int | None, at: datetime, wanted: Wanted = TWENTY_BEST
) -> RankedOffers:
    """Other items judged part for part against this one; no drive is known, so nothing is said about duty. Three queries."""
    if item.specification is None or item.specification.kind != PartKind.SPROCKET:
        return RankedOffers(Requirement(), notes=(fact("item_is_no_recorded_sprocket"),))
    put = Parameters()
    known = answers(Item, put, SETTINGS | {"item_rules": rules_question(put, None)})
    practice, rules = practice_of(known), RulesHere.for_item(known["item_rules"], item, at)
    required = requirement_of(attributes_of(item.specification))
    judge_part = OncePerPart(partial(judge, required, practice=practice))

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
            for candidate in judge_candidates(items, stock, rules.judging(judge_part))
        ]

    listing = Shortlist(
        required=required,
        teeth=tooth_range(required),
        practice=practice,
        judge=judge_part,
        here_id=here_id,
        only_available=wanted.in_stock is True,
        other_than=item.pk,
        named=(*wanted.also, *rules.named),
        ruled=rules.specifications,
        refused=wanted.refused,
    )
    return _ranked(listing, offers_of, wanted, rules)


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
    if place is not None and position_requirement(place).verdict_of(part, known).grade is not Grade.UNFIT:
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


@dataclass(frozen=True)
class OncePerPart:
    """Equal parts have equal verdicts. What lies on the shelves has a part only in that of a hub with a bush."""

    judge: Callable[..., Verdict]
    known: dict[tuple[Sprocket, object], Verdict] = field(default_factory=dict)

    def __call__(self, offered: Sprocket, *, bushes: BushesAtHand | None = None) -> Verdict:
        is_free = None
        if bushes is not None and is_bushed(offered):
            is_free = bushes.of_size(offered.bush_size or "")
        key = offered, is_free
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = self.judge(offered, bushes=bushes)
        return found


def _quote(position: str, candidate: Candidate, judge: Judge) -> str:
    return quote_of(position, candidate.item.stock_number, judge(candidate.item, candidate.attributes))


def _with_caution(candidate: Candidate, record: TrackRecord | None) -> Candidate:
    """A caution where it lasted shorter, and a place behind its equals; findings and grade stay as they are."""
    verdict = candidate.verdict
    if record is None or not record.is_caution or record.reason is None or verdict.grade is Grade.UNFIT:
        return candidate
    cautions = (*verdict.cautions, record.reason)
    return replace(candidate, verdict=replace(verdict, cautions=cautions), is_outlasted=record.is_outlasted)


@dataclass(frozen=True)
class _Places:
    """Where the items of a shortlist stand by their verdicts; nothing is known yet of the shelves but how near they are."""

    listing: Shortlist
    wanted: Wanted
    rules: RulesHere
    fitted: FittedHere | None

    def worth_judging(self, found: Shortlisted, first: int) -> tuple[list[ShortlistedItem], int]:
        """Those that decide what is shown, and the class up to which one that was not read could be among it; -1: none could."""
        every, count = sum(found.items_of_class.values()), first
        while True:
            # An item may be chosen for its place and as one of the soonest.
            rows = list({row.stock_number: row for row in (*found.others, *found.placed[:count])}.values())
            if count >= every:
                return rows, -1
            shown = self._shown(rows)
            if self._is_settled(shown, found, count):
                return rows, -1
            if count >= len(found.placed):
                return rows, self._last_class(shown)
            count *= 2

    def _shown(self, rows: list[ShortlistedItem]) -> list[tuple[Any, ...]]:
        places, judge = [], self.rules.judging(self.listing.judge)
        records = self.fitted.records(row.item.pk for row in rows) if self.fitted else {}
        for row in rows:
            offered = sprocket_of(row.item)
            verdict = judge(row.item, offered)
            if self.wanted.takes(verdict.grade, is_available=row.is_available):
                candidate = Candidate(row.item, offered, verdict, ())
                places.append(place_with(_with_caution(candidate, records.get(row.item.pk)), row.nearness))
        return sorted(places)[: self.wanted.count]

    def _is_settled(self, shown: list[tuple[Any, ...]], found: Shortlisted, count: int) -> bool:
        if len(shown) == self.wanted.count and shown[-1] <= found.placed[:count][-1].bound:
            return True
        rest = found.placed[count:]
        best_rank = rest[0].best_rank if rest else GRADE_RANK[Grade.UNFIT]
        is_read = bool(rest) or found.has_all_that_could_fit
        return is_read and best_rank > GRADE_RANK[self.wanted.worst_grade]

    def _last_class(self, shown: list[tuple[Any, ...]]) -> int:
        if len(shown) < self.wanted.count:
            return (GRADE_RANK[self.wanted.worst_grade] + 1) * GRADE_STEP - 1
        rank, is_guess, departures, *_ = shown[-1]
        return class_of(rank, is_guess=is_guess, departures=departures)


def _ranked(
    listing: Shortlist,
    offers_of: Callable[[Sequence[Item]], list[Offer]],
    wanted: Wanted,
    rules: RulesHere,
    *,
    place: PositionRequirement | None = None,
    fitted: FittedHere | None = None,
) -> RankedOffers:
    """So many are judged that none of the rest could be among the best that are wanted; else it is said how many could."""
    key, first = grade_order(listing.here_id), wanted.count + SPARE
    found = listing.read(first)
    rows, last_class = _Places(listing, wanted, rules, fitted).worth_judging(found, first)
    offers = offers_of([row.item for row in rows])
    by_grade = sorted(offers, key=lambda offer: key(offer.candidate))
    by_ready = sorted(by_grade, key=lambda offer: (offer.ready.minutes is None, offer.ready.minutes or 0))
    lifts = place is not None and place.duty.lifting  # No automatic substitute: nothing is put forward.
    return RankedOffers(
        required=listing.required,
        offers=tuple(by_ready if wanted.ordering == "ready" else by_grade),
        best_by_grade=next((offer for offer in by_grade if offer.is_usable and not lifts), None),
        best_by_ready=next(
            (offer for offer in by_ready if offer.is_usable and offer.ready.minutes is not None), None
        ),
        notes=place.notes if place else (),
        place=place,
        left_out=found.not_judged(rows, best_class=last_class),
    )
