"""What a stock is for: one of three services, each under its own name, or the least cost."""

from dataclasses import dataclass
from typing import Literal, get_args

from inventory.number_checks import SMALLEST_QUANTITY, fraction, not_negative, positive

ServiceKind = Literal["cycle_service_level", "fill_rate", "no_backorder"]
SERVICE_KINDS: tuple[ServiceKind, ...] = get_args(ServiceKind)


@dataclass(frozen=True, slots=True)
class ServiceLevelTarget:
    """A service to reach at least; `value` lies between 0 and 1, both excluded."""

    kind: ServiceKind
    value: float

    def __post_init__(self) -> None:
        if self.kind not in SERVICE_KINDS:
            raise ValueError(f"`kind` must be one of {', '.join(SERVICE_KINDS)}, got {self.kind!r}")
        fraction("value", self.value)


@dataclass(frozen=True, slots=True)
class LeastCostTarget:
    """Least yearly cost of holding, ordering and downtime, all in one currency.

    A piece requested that is not on the shelf costs `hours_to_expedite` hours of downtime.
    """

    unit_cost: float
    holding_rate_per_year: float
    downtime_cost_per_hour: float
    hours_to_expedite: float
    order_cost: float = 0.0

    def __post_init__(self) -> None:
        positive("unit_cost", self.unit_cost, least=SMALLEST_QUANTITY)
        positive("holding_rate_per_year", self.holding_rate_per_year, least=SMALLEST_QUANTITY)
        not_negative("downtime_cost_per_hour", self.downtime_cost_per_hour)
        not_negative("hours_to_expedite", self.hours_to_expedite)
        not_negative("order_cost", self.order_cost)


StockingTarget = ServiceLevelTarget | LeastCostTarget
