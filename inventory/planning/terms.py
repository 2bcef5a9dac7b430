"""The prices, habits and promises that stock is worked out with: the plant's own, or the shipped start values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.models import Importance, ServiceTarget, StockingTerms, TargetKind

START_VALUE = "start value, common practice, no source"

START_SERVICE: Mapping[str, float] = {
    Importance.VITAL: 0.99,
    Importance.ESSENTIAL: 0.95,
    Importance.DESIRABLE: 0.90,
    Importance.UNKNOWN: 0.95,
}
"""Fill rates promised until the plant sets its own: start values, common practice, no source."""

START_HOLDING_RATE_PER_YEAR = 0.2
"""Share of the price that a piece kept costs in a year: start value, common practice, no source."""

START_PLANNING_DAYS = 7.0
"""From seeing wear to an order sent: start value, common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What holding and ordering cost, and how soon an emergency buy is there."""

    holding_rate_per_year: float = START_HOLDING_RATE_PER_YEAR
    order_cost: Decimal | None = None
    currency: str = "EUR"
    hours_to_expedite: float | None = None
    planning_days: float = START_PLANNING_DAYS
    worst_grade: str = "with_work"
    are_start_values: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The service promised to parts of one importance."""

    importance: str
    kind: str
    value: float
    tolerable_wait_hours: float | None = None
    is_start_value: bool = False

    @classmethod
    def shipped(cls, importance: str) -> "Target":
        return cls(
            importance=importance,
            kind=str(TargetKind.FILL_RATE.value),
            value=START_SERVICE[importance],
            is_start_value=True,
        )


@dataclass(frozen=True, slots=True)
class Targets:
    """The plant's targets by importance; the shipped one where it has set none."""

    rows: Mapping[str, Target] = field(default_factory=dict)

    def of(self, importance: str) -> Target:
        return self.rows.get(importance) or Target.shipped(importance)


def load_terms() -> Terms:
    """One query."""
    row = StockingTerms.objects.first()
    if row is None:
        return Terms()
    return Terms(
        holding_rate_per_year=row.holding_rate_per_year,
        order_cost=row.order_cost,
        currency=row.currency,
        hours_to_expedite=row.hours_to_expedite,
        planning_days=row.planning_days,
        worst_grade=row.worst_grade,
        are_start_values=not row.are_set,
    )


def load_targets() -> Targets:
    """One query."""
    return Targets(
        {
            row.importance: Target(
                importance=row.importance,
                kind=row.kind,
                value=row.value,
                tolerable_wait_hours=row.tolerable_wait_hours,
            )
            for row in ServiceTarget.objects.all()
        }
    )
