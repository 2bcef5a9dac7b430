"""What changes in this plant when a setting of the demand models is halved or doubled; nothing is stored."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.models import Recommendation
from inventory.planning.policy_inputs import load_policy_inputs
from inventory.planning.recommend import recommend
from inventory.stocking.demand_settings import FORMS, DemandSettings
from inventory.stores.lead_times import emergency_hours

FACTORS = (0.5, 2.0)
Advice = Mapping[tuple[int, int], Recommendation]
"""By item and storeroom."""


@dataclass(frozen=True, slots=True)
class SettingEffect:
    """Of one setting at another value, against the values in force."""

    setting: str
    value: float
    levels_changed: int
    models_changed: int
    order_up_to_change: int
    """Pieces more or fewer at the highest levels, over all parts."""
    rate_change: float
    """Of the unplanned demand a year of all parts, as a share."""
    order_dates_changed: int


def setting_effects(as_of: datetime) -> Iterator[SettingEffect]:
    """Each setting halved and doubled, within its range; a recompute for each."""
    current = current_demand_settings()
    before = _advice(as_of, current)
    for name, form in FORMS.items():
        for factor in FACTORS:
            value = min(max(getattr(current, name) * factor, form.least), form.most)
            value = round(value) if form.is_whole else value
            if value != getattr(current, name):
                after = _advice(as_of, replace(current, **{name: value}))
                yield _effect(name, value, before, after)


def _advice(as_of: datetime, settings: DemandSettings) -> Advice:
    snapshot = load_demand_snapshot(as_of, settings=settings)
    needs = needs_of(snapshot)
    inputs = load_policy_inputs(needs, lead_times=snapshot.lead_times, emergencies=emergency_hours(as_of))
    return {(need.item_id, need.storeroom_id): recommend(inputs.of(need)) for need in needs}


def _effect(name: str, value: float, before: Advice, after: Advice) -> SettingEffect:
    pairs = [(before[key], after[key]) for key in before.keys() & after.keys()]
    rates = sum(old.rate_per_year for old, _ in pairs), sum(new.rate_per_year for _, new in pairs)
    return SettingEffect(
        setting=name,
        value=value,
        levels_changed=sum(_levels(old) != _levels(new) for old, new in pairs),
        models_changed=sum(old.model != new.model for old, new in pairs),
        order_up_to_change=sum(new.order_up_to - old.order_up_to for old, new in pairs),
        rate_change=rates[1] / rates[0] - 1 if rates[0] else 0.0,
        order_dates_changed=sum(_order_dates(old) != _order_dates(new) for old, new in pairs),
    )


def _levels(advice: Recommendation) -> tuple[int, int]:
    return advice.reorder_point, advice.order_up_to


def _order_dates(advice: Recommendation) -> list[str | None]:
    return [row["order_by"] for row in advice.evidence["inspections"]]
