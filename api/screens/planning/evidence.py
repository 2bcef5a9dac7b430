"""The evidence of a recommendation as its page shows it: each request, each life, and what counts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, get_args

from django.utils import timezone
from django.utils.translation import gettext as _

from api.wording.sentences import sentences
from inventory.facts import fact_from_json
from inventory.plumbing.stored_form import hints_of

UNMET = frozenset({"partly", "not_filled", "not_stocked"})
MOST_SHOWN = 60


@dataclass(frozen=True)
class DemandRow:
    """One request; `counts` says whether it adds to the rate, and why."""

    at: datetime
    item: str
    given: str
    position: str
    quantity: int
    result: str
    work_order: str
    source: str
    is_planned: bool
    is_earlier: bool = False
    """From before the record was complete."""

    @property
    def is_unmet(self) -> bool:
        return self.result in UNMET

    @property
    def is_other_item(self) -> bool:
        """Another item was issued than the one requested."""
        return bool(self.item and self.given and self.item != self.given)

    @property
    def counts(self) -> str:
        if self.is_earlier:
            return _("no: before the record was complete")
        if self.is_planned:
            return _("no: planned, ordered for its job")
        if self.result in UNMET:
            return _("yes, although not filled")
        return _("yes")


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
        """Only wear counts as an end in the distribution of lives."""
        return self.counts_as == "worn_out"


@dataclass(frozen=True)
class InspectionRow:
    """What inspections predict for a position; `is_late` where the day to order by is past."""

    position: str
    reasons: str
    notice_days: float | None
    limit_on: date | None
    early_limit_on: date | None
    early_chance: float | None
    order_by: date | None
    is_late: bool


@dataclass(frozen=True)
class EvidencePage:
    """`raw` is the evidence as it was written; what a run did not write is empty."""

    raw: Mapping[str, Any]
    demand: tuple[DemandRow, ...]
    lives: tuple[LifeRow, ...]
    inspections: tuple[InspectionRow, ...]
    record_from: datetime | None
    record_until: datetime | None

    @property
    def pool(self) -> Mapping[str, Any]:
        return self.raw.get("pool") or {}

    @property
    def other_numbers(self) -> tuple[str, ...]:
        """Stock numbers whose demand is counted together, where there are several."""
        members = tuple(self.pool.get("members") or ())
        return members if len(members) > 1 else ()

    @property
    def fit_reason(self) -> str:
        reasons = (self.raw.get("fit") or {}).get("reasons", ())
        return sentences(fact_from_json(reason) for reason in reasons)

    @property
    def newest_demand(self) -> tuple[DemandRow, ...]:
        return self.demand[::-1][:MOST_SHOWN]

    @property
    def demand_left_out(self) -> int:
        return max(len(self.demand) - MOST_SHOWN, 0)

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
    """In the current time zone; inspections with the earliest date to order by first."""
    pool = evidence.get("pool") or {}
    demand: list[DemandRow] = [
        _read(DemandRow, row, is_earlier=name == "earlier_events")
        for name in ("events", "earlier_events")
        for row in evidence.get(name) or ()
    ]
    lives: list[LifeRow] = [_read(LifeRow, row) for row in evidence.get("lives") or ()]
    inspections = [_inspection_row(row, today) for row in evidence.get("inspections") or ()]
    return EvidencePage(
        raw=evidence,
        demand=tuple(sorted(demand, key=lambda row: row.at)),
        lives=tuple(sorted(lives, key=lambda row: row.installed_at)),
        inspections=tuple(
            sorted(inspections, key=lambda row: (row.order_by or date.max, row.position)),
        ),
        record_from=_value(datetime, pool.get("record_from")),
        record_until=_value(datetime, pool.get("record_until")),
    )


def _inspection_row(row: Mapping[str, Any], today: date) -> InspectionRow:
    order_by = _value(date, row.get("order_by"))
    reasons = sentences(fact_from_json(reason) for reason in row["reasons"])
    found: InspectionRow = _read(
        InspectionRow, row, reasons=reasons, is_late=order_by is not None and order_by < today
    )
    return found


def _read(form: Any, row: Mapping[str, Any], **own: Any) -> Any:
    """The fields of a row by the names under which they were written."""
    written = {name: _value(kind, row.get(name)) for name, kind in hints_of(form).items()}
    return form(**written | own)


def _value(kind: Any, written: Any) -> Any:
    """A moment in the current time zone; text that was not written is empty."""
    if written is None:
        return "" if kind is str else None
    if datetime in (kind, *get_args(kind)):
        return timezone.localtime(datetime.fromisoformat(written))
    return date.fromisoformat(written) if date in (kind, *get_args(kind)) else written
