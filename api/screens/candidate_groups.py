"""Candidates as a page shows them: those that fit by grade or by time, then those that do not, easily mistaken ones first."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from django.utils.translation import gettext as _

from api.screens.page_options import PageOptions
from drives.exposure.item_exposure import ItemExposure
from drives.substitutes.offers import Offer, RankedOffers, Wanted
from inventory.facts import Fact
from inventory.interchange.findings import Finding
from inventory.interchange.vocabulary import Aspect, Grade, Outcome

Exposures = Mapping[int, ItemExposure]
"""Who else could need it, by item."""
NO_EXPOSURES: Exposures = MappingProxyType({})
FULL_CARDS = 5
ROWS = 12
REFUSALS = 8
MOST_ON_PAGE = 300
LOOKS_RIGHT = frozenset({Aspect.CHAIN, Aspect.STRANDS, Aspect.MOUNTING, Aspect.KEY, Aspect.MATERIAL})
"""Faults that cannot be seen by eye; teeth can be counted."""


@dataclass(frozen=True)
class CandidateGroup:
    """Offers under one heading: the first ones of a page as cards, the others as one row each."""

    title: str
    grade: Grade | None
    cards: tuple[Offer, ...]
    rows: tuple[Offer, ...]


@dataclass(frozen=True)
class CandidateLayout:
    """What a page shows of an answer."""

    groups: tuple[CandidateGroup, ...] = ()
    mistaken: tuple[Offer, ...] = ()
    refused: tuple[Offer, ...] = ()
    offers_left_out: int = 0
    refusals_left_out: int = 0
    lookalike: Offer | None = None
    common_cautions: tuple[Fact, ...] = ()
    common_unchecked: tuple[Fact, ...] = ()

    @property
    def has_refusals(self) -> bool:
        return bool(self.mistaken or self.refused)

    @property
    def refusal_count(self) -> int:
        return len(self.mistaken) + len(self.refused) + self.refusals_left_out


@dataclass
class Sources:
    """The sources of a page, numbered in the order in which they are first named."""

    numbers: dict[tuple[Fact, ...], int] = field(default_factory=dict)

    def number_of(self, sources: tuple[Fact, ...]) -> int:
        return self.numbers.setdefault(sources, len(self.numbers) + 1)

    @property
    def listed(self) -> list[tuple[int, tuple[Fact, ...]]]:
        return [(number, source) for source, number in self.numbers.items()]


@dataclass(frozen=True)
class CandidateCard:
    """One offer, without what the page says once for all offers."""

    offer: Offer
    cautions: tuple[Fact, ...]
    unchecked: tuple[Fact, ...]
    checks: tuple[tuple[Finding, int], ...]
    exposure: ItemExposure | None = None

    @property
    def grade(self) -> Grade:
        return self.offer.candidate.verdict.grade

    @cached_property
    def reasons(self) -> tuple[Finding, ...]:
        """Why it has this grade; none for a drop-in."""
        return () if self.grade is Grade.DROP_IN else reasons_of(self.offer)

    @property
    def rules(self) -> tuple[Finding, ...]:
        """What a rule settled; what one forbids is a reason of the grade."""
        found = self.offer.candidate.verdict.findings
        return tuple(one for one in found if one.aspect is Aspect.RULE and one.outcome is Outcome.OK)

    @property
    def passed(self) -> int:
        return sum(finding.outcome is Outcome.OK for finding, _source in self.checks)

    @property
    def is_unfit(self) -> bool:
        return self.grade is Grade.UNFIT

    @property
    def waits_for_shop(self) -> bool:
        return _is_later(self.offer.ready.shop_done_minutes, self.offer.ready.fetch_minutes)

    @property
    def waits_for_companions(self) -> bool:
        return _is_later(self.offer.ready.companions_minutes, self.offer.ready.fetch_minutes)

    @property
    def has_one_fitted(self) -> bool:
        record = self.offer.track_record
        return record is not None and record.fitted > record.ended


def _is_later(minutes: int | None, fetch_minutes: int | None) -> bool:
    return minutes is not None and fetch_minutes is not None and minutes > fetch_minutes


def reasons_of(offer: Offer) -> tuple[Finding, ...]:
    """The deciding findings, one for each sentence; a wrong chain first, since it cannot be seen by eye."""
    deciding = sorted(
        offer.candidate.verdict.deciding, key=lambda finding: finding.aspect is not Aspect.CHAIN
    )
    shown: dict[tuple[Fact, ...], Finding] = {}
    for finding in deciding:
        shown.setdefault(finding.facts, finding)
    return tuple(shown.values())


def wanted_on_page(options: PageOptions) -> Wanted:
    """What is shown, and as many look-alikes that do not fit."""
    count = MOST_ON_PAGE if options.show_all else FULL_CARDS + ROWS
    in_stock = True if options.shelf_only else None
    also = (options.part,) if options.part else ()
    return Wanted(count, options.order, in_stock=in_stock, also=also, refused=REFUSALS)


def lay_out(
    answer: RankedOffers, *, here_id: int | None, soonest_first: bool, on_shelf_only: bool, show_all: bool
) -> CandidateLayout:
    """Group, trim and count the offers of an answer; `here_id` is the storeroom of the counter."""
    offers = [offer for offer in answer.offers if not on_shelf_only or offer.candidate.available]
    usable = [offer for offer in offers if offer.candidate.verdict.grade is not Grade.UNFIT]
    refused = [offer for offer in offers if offer.candidate.verdict.grade is Grade.UNFIT]
    shown = usable if show_all else usable[: FULL_CARDS + ROWS]
    refused_shown = sorted(refused, key=lambda offer: _mistake_key(offer, here_id))[
        : None if show_all else REFUSALS
    ]
    headed, left = _by_time(shown) if soonest_first else _by_grade(shown), answer.left_out
    return CandidateLayout(
        groups=tuple(_trimmed(headed)),
        mistaken=tuple(offer for offer in refused_shown if is_easily_mistaken(offer)),
        refused=tuple(offer for offer in refused_shown if not is_easily_mistaken(offer)),
        offers_left_out=len(usable) - len(shown) + (0 if show_all else left.lower_ranked),
        refusals_left_out=len(refused) - len(refused_shown) + (0 if show_all else left.certainly_unfit),
        lookalike=next(
            (offer for offer in refused_shown if is_easily_mistaken(offer) and _on_hand(offer, here_id)), None
        ),
        common_cautions=_common(offer.candidate.verdict.cautions for offer in usable),
        common_unchecked=_common(_unchecked(offer) for offer in usable),
    )


def is_easily_mistaken(offer: Offer) -> bool:
    """Its only fault is one that cannot be seen by eye: it looks right on the counter."""
    wrong = [finding.aspect for finding in reasons_of(offer)]
    return len(wrong) == 1 and wrong[0] in LOOKS_RIGHT


def _on_hand(offer: Offer, here_id: int | None) -> bool:
    return any(shelf.on_hand and here_id in (None, shelf.storeroom_id) for shelf in offer.candidate.shelves)


def _mistake_key(offer: Offer, here_id: int | None) -> tuple[object, ...]:
    wrong = [finding.aspect for finding in offer.candidate.verdict.deciding]
    return (
        not is_easily_mistaken(offer),
        not _on_hand(offer, here_id),
        Aspect.CHAIN not in wrong,
        not _on_hand(offer, None),
        len(wrong),
        offer.candidate.item.stock_number,
    )


def _by_grade(offers: list[Offer]) -> list[tuple[str, Grade | None, list[Offer]]]:
    return [
        ("", grade, [offer for offer in offers if offer.candidate.verdict.grade is grade])
        for grade in (Grade.DROP_IN, Grade.WITH_WORK, Grade.NEEDS_REVIEW)
    ]


def _by_time(offers: list[Offer]) -> list[tuple[str, Grade | None, list[Offer]]]:
    return [
        (_("Soonest running first"), None, [offer for offer in offers if offer.ready.minutes is not None]),
        (_("Time until running not known"), None, [offer for offer in offers if offer.ready.minutes is None]),
    ]


def _trimmed(headed: list[tuple[str, Grade | None, list[Offer]]]) -> Iterable[CandidateGroup]:
    left = FULL_CARDS
    for title, grade, offers in headed:
        if offers:
            yield CandidateGroup(title, grade, tuple(offers[:left]), tuple(offers[left:]))
            left -= len(offers[:left])


def _unchecked(offer: Offer) -> tuple[Fact, ...]:
    unchecked = offer.candidate.verdict.unchecked
    return tuple(dict.fromkeys(fact for finding in unchecked for fact in finding.facts))


def _common(lists: Iterable[tuple[Fact, ...]]) -> tuple[Fact, ...]:
    """What all offers have in common, in the order of the first; none where there is one offer."""
    each = list(lists)
    if len(each) < 2:
        return ()
    return tuple(line for line in each[0] if all(line in other for other in each[1:]))


def candidate_card(
    offer: Offer, shown: CandidateLayout, sources: Sources, exposures: Exposures = NO_EXPOSURES
) -> CandidateCard:
    verdict = offer.candidate.verdict
    said = {*shown.common_cautions, *(caution for step in verdict.work for caution in step.cautions)}
    return CandidateCard(
        offer=offer,
        cautions=tuple(line for line in verdict.cautions if line not in said),
        unchecked=tuple(line for line in _unchecked(offer) if line not in shown.common_unchecked),
        checks=tuple((finding, sources.number_of(finding.sources)) for finding in verdict.checks),
        exposure=exposures.get(offer.candidate.item.pk),
    )


def grouped_cards(
    shown: CandidateLayout, sources: Sources, exposures: Exposures = NO_EXPOSURES
) -> list[tuple[CandidateGroup, list[CandidateCard]]]:
    return [
        (group, [candidate_card(offer, shown, sources, exposures) for offer in group.cards])
        for group in shown.groups
    ]
