"""What every part in every storeroom is asked for, as the numbers and the evidence that minimum stock is worked out from."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from drives.demand.demand_windows import PositionAsk, asks_of
from drives.demand.evidence import evidence_of, growing_worse
from drives.demand.families import Families
from drives.demand.importance import Weight, importances
from drives.demand.model_selection import Choice, choose
from drives.demand.pools import Plant, Pool, gather
from drives.demand.substitute_cover import SecondLine, second_line
from drives.lessons.wear_notice import PositionNotice, wear_notices
from inventory.facts import Fact, fact
from inventory.models import Item, Lifecycle, StockLevel, StockPolicy
from inventory.planning.policy_inputs import Downtime, Need, WearNotice
from inventory.planning.terms import Terms, load_terms
from inventory.stores.lead_times import LeadTimes, lead_times

MOST_ORDER_DATES = 10


@dataclass(frozen=True)
class Survey:
    """A plant looked at from one moment: pools, what they ask for, and all that a need is put together from."""

    plant: Plant
    chosen: tuple[tuple[Pool, Choice], ...]
    families: Families
    notices: Mapping[int, PositionNotice]
    lead_times: LeadTimes
    terms: Terms
    kept: frozenset[tuple[int, int]]
    """Item and storeroom of what a policy keeps; where a part has no policy at all, of what lies on a shelf."""
    levels: Mapping[tuple[int, int], int]
    """Order-up-to of the policies in force."""

    @cached_property
    def asks(self) -> dict[int, PositionAsk]:
        return asks_of(self.plant, self.families, self.chosen)

    @cached_property
    def weights(self) -> Mapping[int, Weight]:
        """How much each part matters, by its lowest number."""
        return importances(self.plant, frozenset(item for item, _ in self.kept))


def survey(as_of: datetime) -> Survey:
    """Everything loaded once; exposure counts to the end of the day, so that one day gives one answer."""
    terms = load_terms()
    plant = gather(end_of_day(as_of), worst_grade=terms.worst_grade, known_until=as_of)
    families = Families(plant)
    chosen = tuple((pool, choose(pool, families.prior_of(pool))) for pool in plant.pools)
    policies = {
        (row.item_id, row.storeroom_id): row.order_up_to for row in StockPolicy.objects.order_by("pk")
    }
    return Survey(
        plant=plant,
        chosen=chosen,
        families=families,
        notices=wear_notices(as_of),
        lead_times=lead_times(as_of),
        terms=terms,
        kept=_kept(policies),
        levels=policies,
    )


def end_of_day(moment: datetime) -> datetime:
    day = moment.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    return day + timedelta(days=1)


def _kept(policies: Mapping[tuple[int, int], int]) -> frozenset[tuple[int, int]]:
    ruled = {item for item, _ in policies}
    held = StockLevel.objects.not_empty().values_list("item_id", "storeroom_id")
    return frozenset(key for key, most in policies.items() if most > 0) | frozenset(
        (item, room) for item, room in held if item not in ruled
    )


def needs(as_of: datetime) -> list[Need]:
    """One need for each number of each pool, in the order of item and storeroom."""
    return needs_of(survey(as_of))


def needs_of(seen: Survey) -> list[Need]:
    found = [need for pool, choice in seen.chosen for need in _of_pool(seen, pool, choice)]
    return sorted(found, key=lambda need: (need.item_id, need.storeroom_id))


def _of_pool(seen: Survey, pool: Pool, choice: Choice) -> Iterable[Need]:
    home = kept_number(seen, pool)
    need = _need(seen, pool, choice, home)
    yield need
    for item_id in pool.member_ids:
        if item_id != home and _is_held_here(seen, item_id, pool.storeroom.pk):
            yield replace(need, item_id=item_id, kept_as_id=home)


def _is_held_here(seen: Survey, item_id: int, storeroom_id: int) -> bool:
    return (item_id, storeroom_id) in seen.kept or (item_id, storeroom_id) in seen.levels


def kept_number(seen: Survey, pool: Pool) -> int:
    """Of equal numbers the one to keep: active, asked for most, cheapest, lowest number."""
    asked: dict[int, int] = {}
    for asking in pool.asked:
        if asking.item_id is not None:
            asked[asking.item_id] = asked.get(asking.item_id, 0) + asking.quantity

    def key(item: Item) -> tuple[Any, ...]:
        cost = item.unit_cost
        return (
            item.lifecycle != Lifecycle.ACTIVE,
            -asked.get(item.pk, 0),
            cost is None,
            cost or Decimal(0),
            item.stock_number,
        )

    return min((seen.plant.items[member] for member in pool.member_ids), key=key).pk


def _need(seen: Survey, pool: Pool, choice: Choice, home: int) -> Need:
    weight = seen.weights[pool.part]
    notice, noticed = _notice(seen, pool, home)
    sudden = choose(pool, seen.families.prior_of(pool), without_wear_at=noticed) if notice else None
    cover = second_line(seen, pool, home)
    worse = growing_worse(pool)
    return Need(
        item_id=home,
        storeroom_id=pool.storeroom.pk,
        member_ids=pool.member_ids,
        demand=choice.demand,
        sudden_demand=sudden.demand if sudden else None,
        model=choice.model,
        rate_per_year=choice.rate_per_year,
        planned_per_year=_planned_per_year(pool),
        importance=weight.importance,
        downtime=_downtime(weight),
        notice=notice,
        explanation=_texts((*choice.reasons, *worse, weight.reason)),
        cover_explanation=_texts(line.sentence for line in cover[:3]),
        evidence={**evidence_of(seen.plant, pool, choice, cover, weight), "looks": _looks(seen, pool, home)},
        inputs=_inputs(seen, pool, choice, notice, cover, weight),
    )


def _planned_per_year(pool: Pool) -> float:
    pieces = sum(asking.quantity for asking in pool.asked if asking.is_planned)
    return pieces / pool.record_years


def _downtime(weight: Weight) -> Downtime | None:
    if weight.drive is None or weight.drive.downtime_cost_per_hour is None:
        return None
    return Downtime(
        cost_per_hour=weight.drive.downtime_cost_per_hour,
        currency=weight.drive.currency,
        drive=weight.drive.tag,
    )


def _notice(seen: Survey, pool: Pool, home: int) -> tuple[WearNotice | None, frozenset[int]]:
    """Of the positions that inspections watch: those whose notice is long enough, else all, to say why it is not."""
    lead = seen.lead_times.of(home, pool.storeroom.pk)
    if lead is None or not pool.places:
        return None, frozenset()
    late = lead.late_days
    watched = {
        place.position.pk: seen.notices[place.position.pk]
        for place in pool.places
        if place.position.pk in seen.notices and seen.notices[place.position.pk].notice_days
    }
    if not watched:
        return None, frozenset()
    needed = late + seen.terms.planning_days
    early = {pk: told for pk, told in watched.items() if (told.notice_days or 0.0) > needed} or watched
    notice = _pooled_notice(seen, pool, early, late)
    return (notice, frozenset(early)) if notice.wear_share > 0 else (None, frozenset())


def _pooled_notice(
    seen: Survey, pool: Pool, told: Mapping[int, PositionNotice], late_days: float
) -> WearNotice:
    worn = [life for life in pool.lives if life.is_worn_out and life.removed_at is not None]
    coming = sum(life.position_id in told and life.removed_at >= pool.record_from for life in worn)  # type: ignore[operator]
    asked = sum(asking.quantity for asking in pool.unplanned)
    tags = {place.position.pk: place.position.tag for place in pool.places}
    dates = []
    for pk, notice in told.items():
        day = notice.order_by(late_days, planning_days=seen.terms.planning_days)
        if day is not None:
            dates.append((tags[pk], day.isoformat()))
    return WearNotice(
        wear_share=min(coming / asked, 1.0) if asked else 0.0,
        notice_days=min(notice.notice_days or 0.0 for notice in told.values()),
        order_by=tuple(sorted(dates, key=lambda row: (row[1], row[0]))[:MOST_ORDER_DATES]),
    )


def _looks(seen: Survey, pool: Pool, home: int) -> list[dict[str, Any]]:
    """What inspections foretell at each position that they watch, and by when a new part should be ordered."""
    lead = seen.lead_times.of(home, pool.storeroom.pk)
    rows = []
    for place in pool.places:
        told = seen.notices.get(place.position.pk)
        if told is None:
            continue
        due = told.order_by(lead.late_days, planning_days=seen.terms.planning_days) if lead else None
        rows.append(
            {
                "position": place.position.tag,
                "basis": told.basis,
                "notice_days": told.notice_days,
                "limit_on": told.limit_on.isoformat() if told.limit_on else None,
                "order_by": due.isoformat() if due else None,
            }
        )
    return rows


def _texts(sentences: Iterable[str]) -> tuple[Fact, ...]:
    return tuple(fact("recorded_text", text=sentence) for sentence in sentences)


def _inputs(
    seen: Survey,
    pool: Pool,
    choice: Choice,
    notice: WearNotice | None,
    cover: tuple[SecondLine, ...],
    weight: Weight,
) -> tuple[Any, ...]:
    """Plain values, each as text, so that equal needs give equal text whatever was recorded first."""
    prior = seen.families.prior_of(pool)
    asked = [
        (asking.at.isoformat(), asking.item_id, asking.position_id, asking.quantity, asking.is_planned)
        for asking in pool.asked
    ]
    lives = [
        (life.position_id, life.installed_at.isoformat(), life.hours, life.ended_by, life.mechanism)
        for life in pool.lives
    ]
    places = [(place.position.tag, place.years, place.position.drive.hours_per_year) for place in pool.places]
    return (
        ("members", pool.member_ids),
        ("asked", asked),
        ("lives", lives),
        ("places", places),
        ("record", pool.record_from.isoformat(), pool.as_of.isoformat()),
        ("prior", prior.shape, prior.years, prior.family),
        ("model", choice.model),
        ("notice", repr(notice)),
        ("cover", repr(cover)),
        ("weight", weight.importance, weight.reason, repr(_downtime(weight))),
    )
