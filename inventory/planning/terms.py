"""Prices, habits and service targets that stock is calculated with: the plant's own, or the shipped start values."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from decimal import Decimal

from inventory.models import Importance, ServiceTarget, StockingTerms, TargetKind

START_SERVICE: Mapping[str, float] = {
    Importance.VITAL: 0.99,
    Importance.ESSENTIAL: 0.95,
    Importance.DESIRABLE: 0.90,
    Importance.UNKNOWN: 0.95,
}
"""Target fill rates until the plant sets its own: start values, common practice, no source."""

START_HOLDING_RATE_PER_YEAR = 0.2
"""Share of the price that it costs to hold a piece for a year: start value, common practice, no source."""

START_PLANNING_DAYS = 7.0
"""From seeing wear to sending the order: start value, common practice, no source."""

START_STAGING_DAYS = 1
"""Parts lie ready the day before the job: start value, common practice, no source."""

START_CHAIN_JOINTS = 0
"""A chain is one piece: each joint is one more place to fail. Start value, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What holding and ordering cost, and how soon an emergency order arrives."""

    holding_rate_per_year: float = START_HOLDING_RATE_PER_YEAR
    order_cost: Decimal | None = None
    currency: str = "EUR"
    hours_to_expedite: float | None = None
    planning_days: float = START_PLANNING_DAYS
    staging_days: int = START_STAGING_DAYS
    chain_joints: int = START_CHAIN_JOINTS
    worst_grade: str = "with_work"
    are_start_values: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportanceTarget:
    """The service target for parts of one importance."""

    importance: str
    kind: str
    value: float
    tolerable_wait_hours: float | None = None
    is_start_value: bool = False


def shipped_targets() -> dict[str, ImportanceTarget]:
    """The service targets by importance until the plant sets its own."""
    kind = str(TargetKind.FILL_RATE.value)
    return {
        word: ImportanceTarget(importance=word, kind=kind, value=value, is_start_value=True)
        for word, value in START_SERVICE.items()
    }


def load_terms() -> Terms:
    """One query."""
    row = StockingTerms.objects.first()
    if row is None:
        return Terms()
    own = {one.name: getattr(row, one.name) for one in fields(Terms) if one.name != "are_start_values"}
    return Terms(**own, are_start_values=not row.are_set)


def load_targets() -> dict[str, ImportanceTarget]:
    """The plant's targets by importance, the shipped one where none is set; one query."""
    rows = ServiceTarget.objects.values("importance", "kind", "value", "tolerable_wait_hours")
    return shipped_targets() | {row["importance"]: ImportanceTarget(**row) for row in rows}
