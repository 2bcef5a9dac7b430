"""Which items are worth judging for a requirement, first those that could have the best grade: SQL alone.

The order is a bound and no verdict: no item is better than its `best_rank`. What stands behind may be left unjudged once enough
of what stands before it is as good as it could be; the core stays the only judge.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from decimal import Decimal
from math import floor
from typing import Any

from django.db.models import (
    Case,
    Count,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
    Window,
)
from django.db.models.functions import Coalesce, RowNumber

from inventory.interchange.mounting import LOOKS_LIKE_A_FIT_MM
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, BoreType, Grade, Operation, ShaftKind
from inventory.models import Item, PartKind, Specification, StockLevel, TransferTime
from inventory.models.access_scope import in_storerooms
from inventory.models.engagement import DESIGNATION_TOLERANCE_MM
from inventory.models.item import ItemQuerySet

UNKNOWN_PART = Q(
    specification__kind=PartKind.SPROCKET,
    specification__pitch_mm__isnull=True,
    specification__teeth__isnull=True,
)
"""It could be anything, so it is counted and not judged."""
BATCH = 40
SOONEST = 10
"""So many of the soonest that could fit are in the first batch, whatever their place."""
HERE, UNKNOWN_WAY = -1, 1_000_000
"""In place of the minutes to the storeroom that asks: the item lies there; the way is not recorded."""
MOST_JUDGED = 600
"""Of those that are certainly unfit no more are looked at; what could fit is judged until enough is found."""
ToothRange = tuple[int, int] | None
"""The least and the greatest tooth count worth judging; None where any count may do (an idler)."""


def tooth_range(required: Requirement, ratio_tolerance_percent: float | None = None) -> ToothRange:
    """The counts that a drive's ratio tolerance allows; for double pitch also twice as many."""
    teeth = required.effective_teeth
    if teeth is None or required.is_idler:
        return None
    share = (ratio_tolerance_percent or 0.0) / 100
    least = floor(teeth * (1 - share))
    most = floor(teeth / (1 - min(share, 0.5))) + 1 if share else floor(teeth)
    if required.chain is not None and required.chain.is_double_pitch and not required.chain.has_large_rollers:
        most = max(most, 2 * most)
    return max(least, 1), most


def shortlisted(required: Requirement, teeth: ToothRange, practice: Practice) -> Q:
    """Items that could engage or be mistaken for one that does: pitch and count are right, or one of them is not known.

    Look-alikes that engage badly are in it on purpose: the refusal is worth as much as the offer.
    """
    pitch = None if required.chain is None else _pitch_near(required, practice)
    count = None if teeth is None else Q(teeth__gte=teeth[0], teeth__lte=teeth[1])
    sprocket, no_pitch, no_count = Q(kind=PartKind.SPROCKET), Q(pitch_mm__isnull=True), Q(teeth__isnull=True)
    if pitch is not None and count is not None:
        # Each case whole and in the specifications alone, so that each finds its rows by the index.
        cases = sprocket & pitch & count | sprocket & pitch & no_count | sprocket & no_pitch & count
    elif pitch is not None:
        cases = sprocket & (pitch | no_pitch)
    else:
        cases = sprocket if count is None else sprocket & (count | no_count)
    return Q(specification__in=Specification.objects.filter(cases).order_by())


def could_engage(required: Requirement, offered: Sprocket, teeth: ToothRange, practice: Practice) -> bool:
    """The same choice as `shortlist`, for one item whose attributes are at hand."""
    if offered.chain is not None and not has_pitch_near(required, offered.chain.pitch_mm, practice):
        return False
    return teeth is None or offered.teeth is None or teeth[0] <= offered.teeth <= teeth[1]


def has_pitch_near(required: Requirement, pitch_mm: float, practice: Practice) -> bool:
    """Whether a rim of this pitch could engage; any, where the chain is not known."""
    if required.chain is None:
        return True
    tolerance = practice.thresholds.pitch_tolerance_mm
    return any(abs(pitch_mm - own_mm) <= tolerance for own_mm in _pitches(required))


def _pitches(required: Requirement) -> list[float]:
    """The chain's own pitch; for double-pitch chain on standard rollers also half of it."""
    chain = required.chain
    assert chain is not None
    pitches = [chain.pitch_mm]
    if chain.is_double_pitch and not chain.has_large_rollers:
        pitches.append(chain.pitch_mm / 2)
    return pitches


def _pitch_near(required: Requirement, practice: Practice) -> Q:
    tolerance = Decimal(str(practice.thresholds.pitch_tolerance_mm))
    near = Q()
    for pitch_mm in _pitches(required):
        pitch = Decimal(str(round(pitch_mm, 6)))
        near |= Q(pitch_mm__gte=pitch - tolerance, pitch_mm__lte=pitch + tolerance)
    return near


@dataclass(frozen=True)
class NotJudged:
    """What was not judged: it could be no better than what is shown, it is unfit for certain, or nothing is known of it."""

    lower_ranked: int = 0
    certainly_unfit: int = 0
    unknown_parts: int = 0

    @classmethod
    def of(cls, items: Collection[Any]) -> "NotJudged":
        """What a list holds beside the items of it that were judged."""
        listed, rank = next(iter(items)), GRADE_RANK[Grade.UNFIT]
        unfit = listed.unfit - sum(item.best_rank == rank for item in items)
        return cls(listed.every - len(items) - unfit, unfit, listed.unknown_parts)

    @property
    def total(self) -> int:
        return self.lower_ranked + self.certainly_unfit + self.unknown_parts


@dataclass(frozen=True)
class ShortlistBatch:
    """Items to judge, what is not judged after them, and the best that any of those could be; None where none is left."""

    items: list[Any]
    not_judged: NotJudged
    bound: tuple[object, ...] | None = None


@dataclass(frozen=True)
class Shortlist:
    """The items worth judging for a requirement, in the order of their bound. `here_id` is the storeroom that asks."""

    required: Requirement
    teeth: ToothRange
    practice: Practice
    here_id: int | None = None
    only_available: bool = False
    other_than: int | None = None
    named: tuple[str, ...] = ()

    def batches(self) -> Iterator[ShortlistBatch]:
        """All at once where they are few. Else each is as long as all before it, and the first has the soonest and the named too."""
        plain: list[Any] = list(self._items().annotate(unknown_parts=self._unknown_parts())[: BATCH + 1])
        if len(plain) <= BATCH:
            # The order of the database is worth its price only where it saves judging.
            yield ShortlistBatch(plain, NotJudged(unknown_parts=plain[0].unknown_parts if plain else 0))
            return
        first, size, every = 0, BATCH, BATCH + 1
        known: dict[int, Any] = {}
        is_fit_possible = True
        while first < every and (is_fit_possible or first < MOST_JUDGED):
            wanted = Q(place__gt=first, place__lte=first + size)
            if not first:
                wanted |= Q(soonest__lte=SOONEST) | Q(stock_number__in=self.named)
            rows = list(self.in_order().filter(wanted))
            last = max(
                (row for row in rows if row.place <= first + size), key=lambda row: row.place, default=None
            )
            if last is None:
                return
            new = [row for row in rows if row.pk not in known]
            known |= {row.pk: row for row in new}
            first, size, every = first + size, first + size, last.every
            is_fit_possible = last.best_rank < GRADE_RANK[Grade.UNFIT]
            yield ShortlistBatch(new, NotJudged.of(known.values()), self.bound_of(last))

    @staticmethod
    def bound_of(item: Any) -> tuple[object, ...]:
        """No item behind this one comes before it in `grade_order`."""
        is_unfit = item.best_rank == GRADE_RANK[Grade.UNFIT]
        cost = item.unit_cost
        return (
            *(item.best_rank, False, int(is_unfit), False, item.nearness, False, item.least_minutes),
            *(cost is None, cost or 0, item.stock_number),
        )

    def in_order(self) -> QuerySet[Any]:
        is_here = When(storeroom=self.here_id, then=HERE)
        way = TransferTime.objects.filter(from_storeroom=OuterRef("storeroom"), to_storeroom=self.here_id)
        minutes = Case(
            is_here,
            default=Coalesce(Subquery(way.order_by().values("minutes")[:1]), UNKNOWN_WAY),
            output_field=IntegerField(),
        )
        shelves = in_storerooms(StockLevel.objects.available().filter(item=OuterRef("pk")))
        soonest = shelves.annotate(minutes=minutes).order_by("minutes").values("minutes")[:1]
        found: QuerySet[Any] = self._items().annotate(
            best_rank=best_rank(self.required, self.practice), minutes=Subquery(soonest)
        )
        if self.only_available:
            found = found.filter(minutes__isnull=False)
        nearness = Case(
            When(minutes=HERE, then=0),
            When(minutes__isnull=True, then=2),
            default=1,
            output_field=IntegerField(),
        )
        found = found.annotate(nearness=nearness, least_minutes=least_minutes(self.required, self.practice))
        unfit, cost = GRADE_RANK[Grade.UNFIT], F("unit_cost").asc(nulls_last=True)
        could_fit = Case(When(best_rank=unfit, then=None), default=F("minutes"), output_field=IntegerField())
        by_ready: Any = [could_fit.asc(nulls_last=True), "best_rank", "stock_number"]
        listed: QuerySet[Any] = found.annotate(
            place=Window(
                RowNumber(), order_by=["best_rank", "nearness", "least_minutes", cost, "stock_number"]
            ),
            soonest=Window(RowNumber(), order_by=by_ready),
            every=Window(Count("pk")),
            unfit=Window(Count("pk", filter=Q(best_rank=unfit))),
            unknown_parts=self._unknown_parts(),
        ).order_by("place")
        return listed

    def _unknown_parts(self) -> Coalesce | Value:
        """How many parts nothing is known of, beside each item: one query less."""
        if self.required.chain is None or self.teeth is None:
            return Value(0)
        unknown = Item.objects.filter(UNKNOWN_PART).order_by().values("specification__kind")
        counted = unknown.annotate(count=Count("pk")).values("count")
        return Coalesce(Subquery(counted, output_field=IntegerField()), 0)

    def _items(self) -> ItemQuerySet:
        items = Item.objects.with_specification()
        if self.other_than is not None:
            items = items.exclude(pk=self.other_than)
        return items.filter(shortlisted(self.required, self.teeth, self.practice))


def best_rank(required: Requirement, practice: Practice) -> Case:
    """The rank of the best grade that an item could have here, by the few columns that decide most."""
    ranked = (
        (Grade.UNFIT, _certainly_unfit(required)),
        (Grade.NEEDS_REVIEW, _review_at_best(required, practice)),
        *((Grade.WITH_WORK, condition) for condition in _work_at_best(required).values()),
    )
    cases = [When(condition, then=Value(GRADE_RANK[grade])) for grade, condition in ranked if condition]
    return Case(*cases, default=Value(GRADE_RANK[Grade.DROP_IN]), output_field=IntegerField())


def _certainly_unfit(required: Requirement) -> Q:
    """Fewer rows than strands; a round bore that is much larger than the shaft."""
    unfit = Q()
    if required.strands is not None:
        unfit |= Q(specification__strands__lt=required.strands)
    shaft_mm = _round_shaft_mm(required)
    if shaft_mm is not None:
        unfit |= _other_round_bore(required, specification__bore_mm__gt=shaft_mm + LOOKS_LIKE_A_FIT_MM)
    return unfit


def _review_at_best(required: Requirement, practice: Practice) -> Q:
    """What is not recorded is left to a person, as are more rows than strands and another roller than that of the chain."""
    unknown = Q(specification__bore_type="")
    if required.strands is not None:
        unknown |= Q(specification__strands__gt=required.strands) | Q(specification__strands__isnull=True)
    if required.teeth is not None and not required.is_idler:
        unknown |= Q(specification__teeth__isnull=True)
    if required.chain is not None:
        roller_mm = required.chain.roller_diameter_mm
        apart_mm = (
            roller_mm * practice.thresholds.roller_same_share / (1 - practice.thresholds.roller_same_share)
        )
        apart_mm += float(DESIGNATION_TOLERANCE_MM)
        unknown |= (
            Q(specification__pitch_mm__isnull=True, specification__chain_designation="")
            | Q(specification__roller_diameter_mm__gt=roller_mm + apart_mm)
            | Q(specification__roller_diameter_mm__lt=roller_mm - apart_mm)
        )
    return unknown


def _work_at_best(required: Requirement) -> dict[Operation, Q]:
    """A bore to be bored up, a bush to be changed: by what the work is at least."""
    shaft_mm = _round_shaft_mm(required)
    if shaft_mm is None:
        return {}
    sizes = {part.bush_size for part in (required.shaft, required.interface) if part and part.bush_size}
    other_bush = Q(specification__bore_type__in=(BoreType.TAPERED, BoreType.QD)) & ~Q(
        specification__bush_size=""
    )
    for size in sizes:
        other_bush &= ~Q(specification__bush_size__iexact=size)
    smaller = _other_round_bore(required, specification__bore_mm__lt=shaft_mm - LOOKS_LIKE_A_FIT_MM)
    return {Operation.BORE: smaller, Operation.CHANGE_BUSH: other_bush}


def least_minutes(required: Requirement, practice: Practice) -> Case:
    """Of the work without which an item of grade with work does not fit; 0 where it is not known."""
    work = _work_at_best(required).items()
    cases = [
        When(condition, then=Value(practice.times.minutes.get(operation, 0))) for operation, condition in work
    ]
    return Case(
        When(~Q(best_rank=GRADE_RANK[Grade.WITH_WORK]), then=0),
        *cases,
        default=Value(0),
        output_field=IntegerField(),
    )


def _round_shaft_mm(required: Requirement) -> float | None:
    shaft = required.shaft
    return (
        shaft.diameter_mm if shaft is not None and shaft.kind in (ShaftKind.KEYED, ShaftKind.PLAIN) else None
    )


def _other_round_bore(required: Requirement, **bore: Any) -> Q:
    """A bore of that size; the one of the part to be replaced fits whatever was measured at the shaft."""
    found = Q(specification__bore_type__in=(BoreType.PLAIN, BoreType.FINISHED, BoreType.SPLIT), **bore)
    own_mm = required.interface.bore_mm if required.interface is not None else None
    return found if own_mm is None else found & ~Q(specification__bore_mm=own_mm)
