"""The wear in a pool's demand that inspections see coming: an order in time can replace it without stock."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from drives.demand.pools import Pool
from drives.demand.snapshot import DemandSnapshot
from drives.lessons.wear_notice import PositionNotice
from inventory.planning.policy_inputs import OrderDate, WearNotice

MOST_ORDER_DATES = 10


@dataclass(frozen=True)
class InspectedPositions:
    """The positions of a pool with chain inspections; `item_id` is the item that would be ordered."""

    snapshot: DemandSnapshot
    pool: Pool
    item_id: int

    @cached_property
    def notices(self) -> Mapping[int, PositionNotice]:
        found = self.snapshot.notices
        return {pk: found[pk] for pk in self._tags if pk in found}

    @cached_property
    def _tags(self) -> Mapping[int, str]:
        return {one.position.pk: one.position.tag for one in self.pool.positions}

    @cached_property
    def late_days(self) -> float | None:
        """Days that a late delivery takes; None where the lead time is not known."""
        lead_time = self.snapshot.lead_times.of(self.item_id, self.pool.storeroom.pk)
        return None if lead_time is None else lead_time.late_days

    def notice(self) -> tuple[WearNotice | None, frozenset[int]]:
        """With its positions: those whose notice is long enough, else all, to explain why it is not."""
        watched = {pk: notice for pk, notice in self.notices.items() if notice.notice_days}
        if self.late_days is None or not watched:
            return None, frozenset()
        needed = self.late_days + self.snapshot.terms.planning_days
        early = {pk: notice for pk, notice in watched.items() if (notice.notice_days or 0.0) > needed}
        chosen = early or watched
        share = self._wear_share(frozenset(chosen))
        if not share:
            return None, frozenset()
        notice = WearNotice(
            wear_share=share,
            notice_days=min(notice.notice_days or 0.0 for notice in chosen.values()),
            order_by=self._order_dates(chosen),
        )
        return notice, frozenset(chosen)

    def _wear_share(self, positions: frozenset[int]) -> float:
        """Units worn out at these positions, as a share of all unplanned pieces."""
        worn = sum(
            life.is_worn_out
            and life.position_id in positions
            and life.removed_at is not None
            and life.removed_at >= self.pool.record_from
            for life in self.pool.lives
        )
        pieces = self.pool.unplanned_pieces
        return min(worn / pieces, 1.0) if pieces else 0.0

    def _order_by(self, notice: PositionNotice) -> str | None:
        if self.late_days is None:
            return None
        day = notice.order_by(self.late_days, planning_days=self.snapshot.terms.planning_days)
        return day.isoformat() if day else None

    def _order_dates(self, notices: Mapping[int, PositionNotice]) -> tuple[OrderDate, ...]:
        """The earliest first."""
        dates = [
            OrderDate(day, self._tags[pk], notice.early_chance)
            for pk, notice in notices.items()
            if (day := self._order_by(notice))
        ]
        return tuple(sorted(dates)[:MOST_ORDER_DATES])

    def as_json(self) -> list[dict[str, Any]]:
        """What inspections predict for each position, and by when a new part should be ordered."""
        return [
            {
                "position": self._tags[pk],
                "reasons": [reason.as_json() for reason in notice.reasons],
                "notice_days": notice.notice_days,
                "limit_on": notice.limit_on.isoformat() if notice.limit_on else None,
                "early_limit_on": notice.early_limit_on.isoformat() if notice.early_limit_on else None,
                "early_chance": notice.early_chance,
                "order_by": self._order_by(notice),
            }
            for pk, notice in self.notices.items()
        ]
