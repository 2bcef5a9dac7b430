"""What a setting would change: the same calculation without it and with it; nothing stays written."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from drives.demand.cover_refresh import refresh_cover
from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from drives.models import Cover, Position
from inventory.models import Item, Recommendation, Storeroom
from inventory.models.access_scope import EVERYTHING, in_plants, in_storerooms, scoped_to
from inventory.planning.inputs_hash import basis_of
from inventory.planning.policy_inputs import (
    ItemStoreroom,
    PolicyLevels,
    RecommendationInput,
    levels_of,
    load_policy_inputs,
)
from inventory.planning.recommend import recommend
from inventory.progress import Progress, counted, stretches, unreported
from inventory.stores.lead_times import emergency_hours

MOST_LISTED = 100
Places = Mapping[tuple[int, int], int | None]
"""Minutes of work by position and item."""


@dataclass(frozen=True, kw_only=True)
class AdvisedLevels:
    """`tied_up` is None where the price is not known."""

    importance: str
    levels: PolicyLevels
    tied_up: Decimal | None


@dataclass(frozen=True, kw_only=True)
class MovedRecommendation:
    item: str
    description: str
    storeroom: str
    unit: str
    currency: str
    before: AdvisedLevels
    after: AdvisedLevels

    @property
    def ties_up_more(self) -> Decimal | None:
        """Negative: it frees as much."""
        if self.before.tied_up is None or self.after.tied_up is None:
            return None
        return self.after.tied_up - self.before.tied_up


@dataclass(frozen=True, kw_only=True)
class MoneyChange:
    """Of all that move, also of those that are not listed."""

    currency: str
    ties_up: Decimal
    frees: Decimal


@dataclass(frozen=True, kw_only=True)
class MovedWork:
    """A part that serves a position after work, whose minutes change; None: no longer known, or no longer served."""

    position: str
    item: str
    before: int | None
    after: int | None


@dataclass(frozen=True, kw_only=True)
class EffectOfSetting:
    """Of what the caller may see."""

    calculated: int
    """Recommendations that there are."""
    rests_on_it: int
    """Of them, those whose inputs change."""
    moved: tuple[MovedRecommendation, ...]
    """Those whose levels change, the most money first, as many as are listed."""
    moved_count: int
    money: tuple[MoneyChange, ...]
    without_price: int
    newly_to_decide: int
    no_longer_to_decide: int
    work: tuple[MovedWork, ...] = ()
    work_count: int = 0


@dataclass(frozen=True)
class _Calculated:
    given: Mapping[ItemStoreroom, RecommendationInput]
    minutes: Places


def effect_of_setting(
    change: Callable[[], object],
    *,
    as_of: datetime,
    is_work_judged: bool = False,
    progress: Progress = unreported,
) -> EffectOfSetting:
    """`change` sets it, and is undone. With `is_work_judged` the parts are judged again, which takes longer."""
    without, with_it, compared = stretches(progress, 2, 2, 1)
    with scoped_to(lambda: EVERYTHING):
        before = _undone(as_of, None, is_work_judged) if is_work_judged else _calculated(as_of)
        without(1, 1)
        after = _undone(as_of, change, is_work_judged)
        with_it(1, 1)
    return _compared(before, after, compared)


def _undone(as_of: datetime, change: Callable[[], object] | None, is_work_judged: bool) -> _Calculated:
    with _nothing_written():
        if change is not None:
            change()
        if is_work_judged:
            refresh_cover(as_of)
        return _calculated(as_of, with_minutes=is_work_judged)


@contextmanager
def _nothing_written() -> Iterator[None]:
    with transaction.atomic():
        try:
            yield
        finally:
            transaction.set_rollback(True)


def _calculated(as_of: datetime, *, with_minutes: bool = False) -> _Calculated:
    snapshot = load_demand_snapshot(as_of)
    needs = needs_of(snapshot)
    inputs = load_policy_inputs(needs, lead_times=snapshot.lead_times, emergencies=emergency_hours(as_of))
    given = {(need.item_id, need.storeroom_id): inputs.of(need) for need in needs}
    minutes: dict[tuple[int, int], int | None] = {}
    if with_minutes:
        rows = Cover.objects.order_by().values_list("position", "item", "work_minutes")
        minutes = {(position, item): found for position, item, found in rows}
    return _Calculated(given, minutes)


def _compared(before: _Calculated, after: _Calculated, progress: Progress) -> EffectOfSetting:
    rooms = dict(in_storerooms(Storeroom.objects.order_by(), "pk").values_list("pk", "code"))
    seen = [key for key in sorted(after.given) if key[1] in rooms and key in before.given]
    resting = [key for key in seen if basis_of(before.given[key]) != basis_of(after.given[key])]
    pairs = {
        key: (recommend(before.given[key]), recommend(after.given[key])) for key in counted(resting, progress)
    }
    moved = {key: pair for key, pair in pairs.items() if levels_of(pair[0]) != levels_of(pair[1])}
    rows = _described(moved, rooms)
    waiting = set(Recommendation.objects.waiting().order_by().values_list("item", "storeroom"))
    to_decide = {key for key, (_, then) in pairs.items() if then.is_answered and then.changed}
    work = _moved_work(before.minutes, after.minutes)
    return EffectOfSetting(
        calculated=len(seen),
        rests_on_it=len(resting),
        moved=tuple(rows[:MOST_LISTED]),
        moved_count=len(rows),
        money=tuple(_money(rows)),
        without_price=sum(one.ties_up_more is None for one in rows),
        newly_to_decide=len(to_decide - waiting),
        no_longer_to_decide=len((waiting & pairs.keys()) - to_decide),
        work=tuple(work[:MOST_LISTED]),
        work_count=len(work),
    )


def _described(
    moved: Mapping[ItemStoreroom, tuple[Recommendation, Recommendation]], rooms: Mapping[int, str]
) -> list[MovedRecommendation]:
    items = Item.objects.in_bulk({item for item, _ in moved})
    rows = [
        MovedRecommendation(
            item=items[item].stock_number,
            description=items[item].description,
            storeroom=rooms[room],
            unit=items[item].unit,
            currency=now.currency,
            before=_advised(now),
            after=_advised(then),
        )
        for (item, room), (now, then) in moved.items()
    ]
    return sorted(rows, key=lambda one: (-abs(one.ties_up_more or Decimal(0)), one.item, one.storeroom))


def _advised(draft: Recommendation) -> AdvisedLevels:
    # What is not kept ties up nothing, whatever it costs.
    nothing = None if draft.stocked or not draft.is_answered else "0"
    tied_up = (draft.evidence["figures"] or {}).get("tied_up") or nothing
    return AdvisedLevels(
        importance=draft.importance,
        levels=levels_of(draft),
        tied_up=None if tied_up is None else Decimal(tied_up),
    )


def _money(rows: Iterable[MovedRecommendation]) -> Iterator[MoneyChange]:
    by_currency: dict[str, list[Decimal]] = {}
    for row in rows:
        if row.ties_up_more is not None:
            by_currency.setdefault(row.currency, []).append(row.ties_up_more)
    for currency, changes in sorted(by_currency.items()):
        more = sum((one for one in changes if one > 0), Decimal(0))
        yield MoneyChange(currency=currency, ties_up=more, frees=more - sum(changes, Decimal(0)))


def _moved_work(before: Places, after: Places) -> list[MovedWork]:
    """The greatest change first, of positions in plants that the caller sees."""
    changed = [key for key in sorted(before.keys() | after.keys()) if before.get(key) != after.get(key)]
    seen = in_plants(Position.objects.order_by(), "drive__equipment__area__plant")
    tags = dict(seen.values_list("pk", "tag")) if changed else {}
    numbers = dict(Item.objects.order_by().values_list("pk", "stock_number")) if changed else {}
    rows = [
        MovedWork(
            position=tags[position],
            item=numbers[item],
            before=before.get((position, item)),
            after=after.get((position, item)),
        )
        for position, item in changed
        if position in tags
    ]
    return sorted(rows, key=lambda one: -abs((one.after or 0) - (one.before or 0)))
