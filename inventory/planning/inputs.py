"""What a recommendation was worked out from: one hash over all of it, and the few figures that people know it by."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from inventory.planning.case import Case
from inventory.planning.facts import Levels
from inventory.planning.words import figure, short_levels

METHOD = 2
"""Raised when the way of working out changes, so that the next run works everything out anew."""

LABELS = {
    "rate_per_year": "The demand a year",
    "planned_per_year": "The planned demand a year",
    "events": "The number of events counted",
    "model": "The model of the demand",
    "lead_time_days": "The mean lead time in days",
    "lead_time_sd_days": "The spread of the lead time in days",
    "target": "The target",
    "importance": "The importance",
    "unit_cost": "The price",
    "holding_reason": "The holding reason",
    "lifecycle": "The lifecycle",
    "kept_as": "The number it is kept as",
    "members": "The numbers of the same part",
    "downtime_per_hour": "The cost of an hour of downtime",
    "hours_to_expedite": "The hours to an emergency delivery",
    "notice": "The notice that wear gives",
    "terms": "The stocking terms",
    "policy": "The policy in force",
}


def digest(value: Any) -> str:
    """Of plain values, the same whatever the order in which a mapping was filled."""
    text = json.dumps(value, sort_keys=True, default=str, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def inputs_hash(basis: str, policy: Levels | None) -> str:
    """Of all inputs: `basis` is the hash of all but the policy in force."""
    return digest([basis, None if policy is None else policy.as_json()])


def basis_of(case: Case) -> str:
    """Hash of everything but the policy in force."""
    need, lead_time = case.need, case.lead_time
    known = {
        "method": METHOD,
        "named": {name: value for name, value in named_inputs(case).items() if name != "policy"},
        "demand": need.inputs,
        "order_by": None if need.notice is None else need.notice.order_by,
        "downtime": None if need.downtime is None else asdict(need.downtime),
        "lead_time": None if lead_time is None else [lead_time.basis, lead_time.sentence],
        "terms": asdict(case.terms),
        "target": asdict(case.target),
        "facts": asdict(case.facts),
        "words": [need.explanation, need.cover_explanation],
    }
    return digest(known)


def named_inputs(case: Case) -> dict[str, Any]:
    """The inputs that a person asks about first, as JSON."""
    need, lead_time, facts = case.need, case.lead_time, case.facts
    downtime, notice = need.downtime, need.notice
    return {
        "rate_per_year": need.rate_per_year,
        "planned_per_year": need.planned_per_year,
        "events": _count(need.evidence.get("events")),
        "model": need.model,
        "lead_time_days": lead_time.mean_days if lead_time else None,
        "lead_time_sd_days": lead_time.sd_days if lead_time else None,
        "target": _target_words(case),
        "importance": need.importance,
        "unit_cost": None if facts.unit_cost is None else f"{facts.unit_cost} {facts.currency}",
        "holding_reason": facts.holding_reason,
        "lifecycle": facts.lifecycle,
        "kept_as": case.kept_as or need.kept_as_id,
        "members": sorted(need.member_ids),
        "downtime_per_hour": f"{downtime.cost_per_hour} {downtime.currency}" if downtime else None,
        "hours_to_expedite": case.hours_to_expedite,
        "notice": [notice.wear_share, notice.notice_days] if notice else None,
        "terms": digest(asdict(case.terms))[:12],
        "policy": short_levels(case.today),
    }


def _count(events: Any) -> float | None:
    if isinstance(events, int | float):
        return events
    return len(events) if isinstance(events, list | tuple) else None


def _target_words(case: Case) -> str:
    target = case.target
    wait = "" if target.tolerable_wait_hours is None else f", wait {figure(target.tolerable_wait_hours)} h"
    return f"{target.kind}{wait}" if target.kind == "cost" else f"{target.kind} {target.value:g}{wait}"


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[str, ...]:
    """A sentence for each named input that is no longer what it was, as far as its figures show it."""
    return tuple(
        _change(name, label, before.get(name), after.get(name))
        for name, label in LABELS.items()
        if name in before and _shown(before.get(name)) != _shown(after.get(name))
    )


def _change(name: str, label: str, old: Any, new: Any) -> str:
    if name in ("terms", "members", "notice"):
        return f"{label} changed."
    return f"{label} changed from {_shown(old)} to {_shown(new)}."


def _shown(value: Any) -> str:
    if value is None:
        return "not known"
    return figure(value) if isinstance(value, int | float) else str(value)
