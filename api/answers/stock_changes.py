"""What the stock of a day and that of today are worth, and what lay there beyond need: a job calculates it for the page of changes."""

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone

from api.edge.change_log import names_of
from api.models import Change
from api.operations.jobs.calculations import declare_calculation
from drives.figures.figure import ZERO, Figure
from drives.figures.shelves import dead_stock, excess_on_shelf, policies_in_force
from drives.figures.stock_value import value_by_currency, value_changes
from inventory.models import StockPolicy
from inventory.models.access_scope import current_scope
from inventory.planning.common_stock import load_common_stock
from inventory.progress import Progress, unreported


@dataclass(frozen=True)
class ValueStep:
    kind: str
    change: Decimal


@dataclass(frozen=True)
class ValueBridge:
    """From the value on the first day to that of today, by kind of movement; all at the price of today."""

    currency: str
    before: Decimal
    steps: tuple[ValueStep, ...]
    now: Decimal


@dataclass(frozen=True)
class BeyondNeed:
    """What lay there for too much or for nothing on the first day, and does today, in one currency."""

    name: str
    currency: str
    before: Decimal
    now: Decimal

    @property
    def change(self) -> Decimal:
        return self.now - self.before


@dataclass(frozen=True)
class StockChanges:
    bridges: tuple[ValueBridge, ...]
    beyond_need: tuple[BeyondNeed, ...]


def calculate_stock_changes(since: str, begins: str, progress: Progress = unreported) -> StockChanges:
    """`begins` is the first moment of that day where the storeroom is."""
    moment = datetime.fromisoformat(begins)
    bridges = tuple(_bridges(moment))
    progress(1, 5)
    return StockChanges(bridges, tuple(_beyond_need(date.fromisoformat(since), moment, progress)))


STOCK_CHANGES = declare_calculation(
    "stock_changes", StockChanges, calculate_stock_changes, usual_seconds=1.0, address="screens:changes"
)


def _bridges(begins: datetime) -> Iterator[ValueBridge]:
    rooms = current_scope().storerooms
    moved, now = value_changes(begins, rooms), value_by_currency(rooms)
    for currency in sorted(now.keys() | moved.keys()):
        steps, today = moved.get(currency, {}), now.get(currency, ZERO)
        parts = tuple(ValueStep(kind, change) for kind, change in steps.items())
        yield ValueBridge(currency, today - sum(steps.values(), ZERO), parts, today)


def _beyond_need(since: date, begins: datetime, progress: Progress) -> Iterator[BeyondNeed]:
    """By the same rule then and now, so that the difference is what changed: of the shelves alone, by the verdicts of today."""
    rooms, now = current_scope().storerooms, timezone.now()
    policies, shared = list(policies_in_force()), load_common_stock()
    pairs: tuple[tuple[Callable[[], Figure], Callable[[], Figure]], ...] = (
        (
            lambda: excess_on_shelf(begins, _policies_of(policies, begins), rooms, shared),
            lambda: excess_on_shelf(now, policies, rooms, shared),
        ),
        (lambda: dead_stock(since, rooms, begins), lambda: dead_stock(now.date(), rooms)),
    )
    for done, (then, today) in enumerate(pairs):
        before = then()
        progress(2 + 2 * done, 5)
        after = today()
        progress(3 + 2 * done, 5)
        values = [{one.currency: one.value for one in figure.values} for figure in (before, after)]
        for currency in sorted(values[0].keys() | values[1].keys()):
            sums = (one.get(currency, ZERO) for one in values)
            yield BeyondNeed(after.name, currency, *sums)


def _policies_of(policies: Sequence[StockPolicy], begins: datetime) -> Iterator[StockPolicy]:
    """As they were before the first change that is logged since; where none was set yet, the one of today."""
    changed = [one.pk for one in policies if one.updated_at >= begins]
    names = {pk: key for pk, (key, *_) in names_of(StockPolicy, changed).items()}
    logged = Change.objects.filter(
        record=StockPolicy._meta.label_lower, key__in=names.values(), at__gte=begins
    )
    maxima: dict[str, int] = {}
    for key, before in logged.order_by("id").values_list("key", "before"):
        if "order_up_to" in before:
            maxima.setdefault(key, before["order_up_to"])
    for policy in policies:
        maximum = maxima.get(names.get(policy.pk, ""))
        if maximum is not None:
            policy = copy(policy)
            policy.order_up_to = maximum
        yield policy
