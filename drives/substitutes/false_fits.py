"""False fits: parts that were issued to a position on a verdict of the records and came back as not fitting."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, QuerySet

from drives.models import RecordedVerdict
from inventory.interchange.vocabulary import Aspect, Grade
from inventory.models import FitQuestion, StockEntry
from inventory.stocking.record_accuracy import wilson_interval


@dataclass(frozen=True, slots=True)
class FalseFitRate:
    """Of the issues, those of which something came back; with the 95 % Wilson interval of their share."""

    issued: int
    came_back: int

    @property
    def share(self) -> float | None:
        return self.came_back / self.issued if self.issued else None

    @property
    def interval(self) -> tuple[float, float] | None:
        return wilson_interval(self.came_back, self.issued) if self.issued else None


@dataclass(frozen=True, slots=True)
class FalseFit:
    """One case: what was issued on which verdict, and what its return put in doubt."""

    verdict: RecordedVerdict
    question: FitQuestion


@dataclass(frozen=True, slots=True)
class FalseFits:
    """An issue counts once, however many pieces of it came back. `cases` has the newest first."""

    overall: FalseFitRate
    by_grade: Mapping[Grade, FalseFitRate]
    by_aspect: Mapping[str, FalseFitRate]
    """By the aspect that the return put in doubt, of all issues; the key is empty where nothing told it."""
    cases: tuple[FalseFit, ...]


def false_fits(
    verdicts: QuerySet[RecordedVerdict],
    *,
    begin: datetime,
    end: datetime,
    grade: str = "",
    aspect: str = "",
    most_cases: int,
) -> FalseFits:
    """Over the issues of a span; `grade` and `aspect` choose the cases alone. Five queries."""
    # Nothing is recorded before it happens: the moment of the record, which is indexed, leaves out what is older.
    span = verdicts.filter(
        entry__isnull=False,
        recorded_at__gte=begin,
        entry__occurred_at__gte=begin,
        entry__occurred_at__lt=end,
    )
    # Reversed issues never left the storeroom; one reversed in part did.
    issues = span.exclude(entry__in=_reversed_whole(span)).order_by()
    issued = dict(issues.values_list("grade").annotate(Count("pk")))
    misfits = issues.filter(entry__misfits__isnull=False)
    back = dict(misfits.values_list("grade").annotate(Count("entry", distinct=True)))
    aspects = dict(misfits.values_list("entry__misfits__aspect").annotate(Count("entry", distinct=True)))
    total = sum(issued.values())
    return FalseFits(
        overall=FalseFitRate(total, sum(back.values())),
        by_grade={one: FalseFitRate(issued.get(one.value, 0), back.get(one.value, 0)) for one in Grade},
        by_aspect={
            name: FalseFitRate(total, aspects[name])
            for name in [*(one.value for one in Aspect), ""]
            if name in aspects
        },
        cases=_cases(misfits, grade, aspect, most_cases),
    )


def _reversed_whole(span: QuerySet[RecordedVerdict]) -> Any:
    entries = StockEntry.objects.filter(recorded_verdict__in=span.values("pk"), reversals__isnull=False)
    return entries.with_net().filter(net=0).values("pk")


def _cases(misfits: QuerySet[RecordedVerdict], grade: str, aspect: str, most: int) -> tuple[FalseFit, ...]:
    questions = FitQuestion.objects.filter(issue__recorded_verdict__in=misfits.values("pk"))
    if grade:
        questions = questions.filter(issue__recorded_verdict__grade=grade)
    if aspect:
        questions = questions.filter(aspect=aspect)
    rows = questions.select_related("issue__recorded_verdict__position", "item", "entry").order_by("-pk")[
        :most
    ]
    return tuple(FalseFit(row.issue.recorded_verdict, row) for row in rows if row.issue is not None)
