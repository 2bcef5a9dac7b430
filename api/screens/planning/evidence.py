"""The evidence of a recommendation as a page reads it: every asking, every life, what counts and why."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from api.wording.sentences import sentences
from inventory.facts import fact_from_json

UNMET = frozenset({"partly", "not_filled", "not_stocked"})
MOST_SHOWN = 60


@dataclass(frozen=True)
class DemandRow:
    """One asking, the newest first in a list; `counts` says whether it adds to the rate, and why."""

    at: datetime
    item: str
    given: str
    position: str
    quantity: int
    result: str
    work_order: str
    source: str
    is_planned: bool

    @property
    def is_unmet(self) -> bool:
        return self.result in UNMET

    @property
    def counts(self) -> str:
        if self.is_planned:
            return "not in the rate: planned, ordered on top for its job"
        if self.result in UNMET:
            return "counted: asked for, though not met"
        return "counted"


@dataclass(frozen=True)
class LifeRow:
    position: str
    item: str
    installed_at: datetime
    removed_at: datetime | None
    hours: float | None
    age_basis: str
    ended_by: str
    mechanism: str
    counts_as: str

    @property
    def is_end(self) -> bool:
        """Its end was wear: the only one that the law of lives counts as an end."""
        return self.counts_as == "worn_out"


@dataclass(frozen=True)
class InspectionRow:
    """What inspections predict for a position; `is_late` where the day to order by is past."""

    position: str
    reasons: str
    notice_days: float | None
    limit_on: date | None
    order_by: date | None
    is_late: bool


@dataclass(frozen=True)
class EvidencePage:
    """`raw` is the evidence as it was written; what a run did not write is empty."""

    raw: Mapping[str, Any]
    asked: tuple[DemandRow, ...]
    lives: tuple[LifeRow, ...]
    looks: tuple[InspectionRow, ...]
    record_from: datetime | None
    record_until: datetime | None

    @property
    def pool(self) -> Mapping[str, Any]:
        return self.raw.get("pool") or {}

    @property
    def fit_reason(self) -> str:
        reasons = (self.raw.get("fit") or {}).get("reasons", ())
        return sentences(fact_from_json(reason) for reason in reasons)

    @property
    def newest(self) -> tuple[DemandRow, ...]:
        return self.asked[::-1][:MOST_SHOWN]

    @property
    def asked_left_out(self) -> int:
        return max(len(self.asked) - MOST_SHOWN, 0)

    @property
    def newest_lives(self) -> tuple[LifeRow, ...]:
        return self.lives[::-1][:MOST_SHOWN]

    @property
    def lives_left_out(self) -> int:
        return max(len(self.lives) - MOST_SHOWN, 0)

    @property
    def usable_lives(self) -> tuple[LifeRow, ...]:
        return tuple(life for life in self.lives if life.hours is not None and life.hours > 0)


def evidence_page(evidence: Mapping[str, Any], today: date) -> EvidencePage:
    """In the current time zone."""
    pool = evidence.get("pool") or {}
    return EvidencePage(
        raw=evidence,
        asked=tuple(sorted((_asked(row) for row in evidence.get("events") or ()), key=lambda row: row.at)),
        lives=tuple(
            sorted((_lived(row) for row in evidence.get("lives") or ()), key=lambda row: row.installed_at)
        ),
        looks=tuple(_looks(evidence.get("inspections") or (), today)),
        record_from=_moment(pool.get("record_from")),
        record_until=_moment(pool.get("record_until")),
    )


def _moment(text: str | None) -> datetime | None:
    return timezone.localtime(datetime.fromisoformat(text)) if text else None


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _asked(row: Mapping[str, Any]) -> DemandRow:
    return DemandRow(
        at=timezone.localtime(datetime.fromisoformat(row["at"])),
        item=row.get("item") or "",
        given=row.get("given") or "",
        position=row.get("position") or "",
        quantity=row["quantity"],
        result=row.get("result") or "",
        work_order=row.get("work_order") or "",
        source=row.get("source") or "",
        is_planned=bool(row.get("is_planned")),
    )


def _lived(row: Mapping[str, Any]) -> LifeRow:
    return LifeRow(
        position=row["position"],
        item=row.get("item") or "",
        installed_at=timezone.localtime(datetime.fromisoformat(row["installed_at"])),
        removed_at=_moment(row.get("removed_at")),
        hours=row.get("hours"),
        age_basis=row.get("age_basis") or "",
        ended_by=row.get("ended_by") or "",
        mechanism=row.get("mechanism") or "",
        counts_as=row["counts_as"],
    )


def _looks(rows: Iterable[Mapping[str, Any]], today: date) -> Iterable[InspectionRow]:
    """Those with a day to order by first, the earliest at the top."""
    found = []
    for row in rows:
        order_by = _day(row.get("order_by"))
        is_late = order_by is not None and order_by < today
        found.append(
            InspectionRow(
                row["position"],
                sentences(fact_from_json(reason) for reason in row["reasons"]),
                row.get("notice_days"),
                _day(row.get("limit_on")),
                order_by,
                is_late,
            )
        )
    return sorted(found, key=lambda look: (look.order_by or date.max, look.position))
