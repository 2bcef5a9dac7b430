"""What a recommendation was calculated from: one hash over all of it, and the inputs that people ask about by name."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, fields
from functools import lru_cache
from typing import Any

from inventory.facts import Fact, fact, fact_from_json
from inventory.planning.policy_inputs import ItemDetails, PolicyLevels, RecommendationInput, levels_fact
from inventory.planning.terms import ImportanceTarget, Terms
from inventory.plumbing.stored_form import to_stored

METHOD = 8
"""Raised when the method changes, so that the next run calculates everything again."""

SHOWN_DIGITS = 3
"""A change that these digits do not show is not named."""

ITEM_DETAILS = tuple(one.name for one in fields(ItemDetails))

WITHOUT_FIGURES = ("terms", "members", "notice", "kept_in", "keeps_for")
"""Inputs whose change is named without what they were and are."""


def digest(value: Any) -> str:
    """Of plain values, the same whatever the order in which a mapping was filled."""
    text = json.dumps(value, sort_keys=True, default=str, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def inputs_hash(basis: str, policy: PolicyLevels | None) -> str:
    """Of all inputs: `basis` is the hash of all but the policy in force."""
    return digest([basis, None if policy is None else policy.as_json()])


def basis_of(given: RecommendationInput, named: Mapping[str, Any] | None = None) -> str:
    """Hash of everything but the policy in force; `named` are its `named_inputs`, where they are at hand."""
    named = named or named_inputs(given)
    need, lead_time = given.need, given.lead_time
    known = {
        "method": METHOD,
        "named": {name: value for name, value in named.items() if name != "policy"},
        "demand": dict(need.evidence),
        "order_by": None if need.notice is None else need.notice.order_by,
        "near": [to_stored(one) for one in (need.kept_in, *need.keeps_for) if one],
        "downtime": to_stored(need.downtime),
        "lead_time": None if lead_time is None else [lead_time.basis, _as_json(lead_time.reasons)],
        "terms": _terms(given.terms),
        "target": _target(given.target),
        "item": {name: getattr(given.item, name) for name in ITEM_DETAILS},
        "explanation": _as_json([*need.explanation, *need.cover_explanation]),
    }
    return digest(known)


def _as_json(facts: Any) -> list[Any]:
    return [one.as_json() for one in facts]


def named_inputs(given: RecommendationInput) -> dict[str, Any]:
    """The inputs that a person asks about first, as JSON."""
    need, lead_time, item, target = given.need, given.lead_time, given.item, given.target
    downtime, notice, events = need.downtime, need.notice, need.evidence.get("events")
    promised = fact(
        "target_input",
        kind=target.kind,
        target=None if target.kind == "cost" else target.value,
        tolerable_wait_hours=target.tolerable_wait_hours,
    )
    return {
        "rate_per_year": need.rate_per_year,
        "planned_per_year": need.planned_per_year,
        "events": None if events is None else len(events),
        "model": need.model,
        "lead_time_days": lead_time.mean_days if lead_time else None,
        "lead_time_sd_days": lead_time.sd_days if lead_time else None,
        "target": promised.as_json(),
        "importance": need.importance,
        "unit_cost": None if item.unit_cost is None else _money(item.unit_cost, item.currency),
        "holding_reason": item.holding_reason,
        "lifecycle": item.lifecycle,
        "kept_as": given.kept_as or need.kept_as_id,
        "kept_in": need.kept_in.storeroom_id if need.kept_in else None,
        "keeps_for": [one.storeroom_id for one in need.keeps_for],
        "members": sorted(need.member_ids),
        "downtime_per_hour": _money(downtime.cost_per_hour, downtime.currency) if downtime else None,
        "hours_to_expedite": given.hours_to_expedite,
        "notice": [notice.wear_share, notice.notice_days] if notice else None,
        "terms": _terms_digest(given.terms)[:12],
        "policy": levels_fact(given.today).as_json(),
    }


# Terms and targets are the same for nearly every recommendation of a run.
@lru_cache(maxsize=64)
def _terms(terms: Terms) -> Mapping[str, Any]:
    """Without what only concerns the dates of jobs."""
    return {name: value for name, value in asdict(terms).items() if name != "staging_days"}


@lru_cache(maxsize=64)
def _terms_digest(terms: Terms) -> str:
    return digest(_terms(terms))


@lru_cache(maxsize=64)
def _target(target: ImportanceTarget) -> Mapping[str, Any]:
    return asdict(target)


def _money(amount: Any, currency: str) -> dict[str, Any]:
    return fact("amount_input", amount=f"{amount:.2f}", currency=currency).as_json()


def changed_inputs(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Fact, ...]:
    """A fact for each named input that is no longer what it was, as far as its figures show it."""
    changed = [name for name in after if name in before and _shown(before[name]) != _shown(after[name])]
    return tuple(_change(name, before[name], after[name]) for name in changed)


def _change(name: str, old: Any, new: Any) -> Fact:
    if name in WITHOUT_FIGURES:
        return fact("input_changed_in_part", input=name)
    return fact("input_changed", input=name, before=_value(old), after=_value(new))


def _value(stored: Any) -> Any:
    return fact_from_json(stored) if isinstance(stored, Mapping) else stored


def _shown(value: Any) -> Any:
    return f"{value:.{SHOWN_DIGITS}g}" if isinstance(value, int | float) else value
