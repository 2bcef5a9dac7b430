"""Levels replayed over the requests that they rest on: what they promise, and what they would have met."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

import numpy as np

from inventory.facts import Fact, fact
from inventory.models import Recommendation
from inventory.planning.policy_inputs import PolicyLevels
from inventory.stocking.backtest import PromiseVerdict, binomial_interval, verdict_of
from inventory.stocking.policy_replay import pieces_met

A_DAY = 86_400.0

CODES: Mapping[PromiseVerdict, str] = {
    "kept": "levels_kept_promise",
    "missed": "levels_missed_promise",
    "exceeded": "levels_exceeded_promise",
}

Shares = tuple[int, float, float]
"""Requests, the promised fill rate, and requests met, a part of one as a part."""


def replay_levels(storeroom_id: int | None = None) -> tuple[Fact, ...]:
    """For the levels in force and for those recommended, of all parts together; one query.

    Chain is counted in jobs. Left out are parts whose wear inspections see in time, as they are ordered for it and not met from the shelf. The interval takes
    requests as independent.
    """
    rows = Recommendation.objects.current().order_by("pk")
    if storeroom_id is not None:
        rows = rows.filter(storeroom=storeroom_id)
    found: dict[str, list[Shares]] = {"in_force": [], "recommended": []}
    names = ("today", "lead_time_days", "evidence", "explanation")
    for today, lead_days, evidence, explanation in rows.values_list(*names).iterator():
        if not _is_ordered_in_time(explanation):
            for name, figures in (("in_force", today), ("recommended", evidence.get("figures"))):
                found[name] += _replayed(figures or {}, lead_days, evidence)
    return tuple(_told(name, shares) for name, shares in found.items() if shares)


def _is_ordered_in_time(explanation: Iterable[Mapping[str, Any]]) -> bool:
    return any(reason["code"] == "wear_notice_in_time" for reason in explanation)


def _replayed(
    figures: Mapping[str, Any], lead_days: float | None, evidence: Mapping[str, Any]
) -> list[Shares]:
    events = [event for event in evidence.get("events", ()) if not event["is_planned"]]
    if not events or lead_days is None or not figures.get("stocked") or "fill_rate" not in figures:
        return []
    days = [datetime.fromisoformat(event["at"]).timestamp() / A_DAY for event in events]
    links = (evidence.get("chain") or {}).get("links_per_job", 1)
    pieces = [max(1, round(event["quantity"] / links)) for event in events]
    levels = PolicyLevels(True, figures["reorder_point"], figures["order_up_to"]).in_jobs(links)
    met = pieces_met(
        days, pieces, lead_days=lead_days, reorder_point=levels.reorder_point, order_up_to=levels.order_up_to
    )
    return [(len(events), figures["fill_rate"], float(np.sum(met / np.array(pieces))))]


def _told(levels: str, shares: list[Shares]) -> Fact:
    requests = sum(count for count, _, _ in shares)
    promised = sum(count * fill_rate for count, fill_rate, _ in shares) / requests
    achieved = sum(met for _, _, met in shares) / requests
    low, high = binomial_interval(achieved, requests)
    return fact(
        CODES[verdict_of(promised, low, high)],
        levels=levels,
        parts=len(shares),
        requests=requests,
        promised=promised,
        achieved=achieved,
        low=low,
        high=high,
    )
