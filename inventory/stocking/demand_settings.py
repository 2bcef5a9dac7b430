"""The settings that choose how demand is modelled: one table, each with its unit, its range and its reason."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import timedelta
from typing import Any

from inventory.number_checks import number


@dataclass(frozen=True, slots=True)
class SettingForm:
    """What is shown of a setting, and what is allowed."""

    shipped: float
    unit: str
    least: float
    most: float
    reason: str

    @property
    def is_whole(self) -> bool:
        return isinstance(self.shipped, int)

    def allows(self, value: float) -> bool:
        return self.least <= value <= self.most and (not self.is_whole or value == int(value))


def _setting(shipped: float, unit: str, *, least: float, most: float, reason: str) -> Any:
    return field(default=shipped, metadata={"form": SettingForm(shipped, unit, least, most, reason)})


@dataclass(frozen=True, kw_only=True)
class DemandSettings:
    """Start values; a plant may set its own."""

    fewest_worn_out: int = _setting(
        5,
        "lives",
        least=2,
        most=1_000,
        reason="Worn-out ends below which no life distribution is used, whatever its interval. Judgement, no source.",
    )
    fewest_months_with_demand: int = _setting(
        4,
        "months",
        least=2,
        most=120,
        reason="Months with demand below which a monthly series shows no pattern. Judgement, no source.",
    )
    fading_intervals: float = _setting(
        3.0,
        "usual intervals",
        least=1,
        most=100,
        reason="A part not requested for so many of its usual intervals may be going out of use. Judgement, no source.",
    )
    fewest_pools: int = _setting(
        6,
        "parts",
        least=3,
        most=1_000,
        reason="A smaller family says too little about how far its parts differ. Judgement, no source.",
    )
    prior_events: float = _setting(
        0.5,
        "events",
        least=0.01,
        most=10,
        reason="Weight of a prior where none can be fitted. Jeffreys 1946, Proceedings of the Royal Society A 186.",
    )
    same_need_days: float = _setting(
        7.0,
        "days",
        least=0,
        most=90,
        reason="Records of one position closer than this are one need, where no work order says so. Judgement, no source.",
    )
    substitute_days: float = _setting(
        30.0,
        "days",
        least=1,
        most=3_650,
        reason="Time over which a substitute is valued where the lead time is not known. Judgement, no source.",
    )
    record_rise_factor: float = _setting(
        3.0,
        "times",
        least=1.2,
        most=100,
        reason="A record whose density rises by less is complete from its first day. Judgement: plants grow, but seldom threefold.",
    )
    record_rise_chance: float = _setting(
        0.01,
        "chance",
        least=1e-6,
        most=0.2,
        reason="A rise as likely as this by chance alone does not move the start of the record. Common practice, no source.",
    )
    wear_warning_share: float = _setting(
        0.6,
        "share of the limit",
        least=0.1,
        most=0.95,
        reason="From here on wear is more than the scatter of the readings. Judgement, no source.",
    )
    early_limit_chance: float = _setting(
        0.1,
        "chance",
        least=0.005,
        most=0.5,
        reason="Chance that the wear limit comes before the day that is ordered for. Judgement, no source.",
    )
    new_chain_percent: float = _setting(
        0.5,
        "percent of elongation",
        least=0,
        most=2,
        reason="A note of a new chain beside a larger reading asks for one and does not say that one was fitted. Judgement, no source.",
    )
    tie_share: float = _setting(
        0.05,
        "share of the yearly cost",
        least=0,
        most=0.5,
        reason="Costs with stock and without that differ by no more decide nothing. Judgement: rates are known no better.",
    )
    decision_drift: float = _setting(
        0.1,
        "share of the yearly demand",
        least=0,
        most=1,
        reason="Change of the demand by the mere passing of days after which a decision stands. Judgement, no source.",
    )

    @property
    def same_need(self) -> timedelta:
        return timedelta(days=self.same_need_days)

    @classmethod
    def with_own(cls, own: Mapping[str, float]) -> "DemandSettings":
        """The start values, replaced by a plant's own where it has some."""
        return cls(**{name: _checked(name, value) for name, value in own.items()})

    def own(self) -> dict[str, float]:
        """What differs from the start values."""
        return {
            name: getattr(self, name) for name, form in FORMS.items() if getattr(self, name) != form.shipped
        }


FORMS: dict[str, SettingForm] = {spec.name: spec.metadata["form"] for spec in fields(DemandSettings)}
SHIPPED = DemandSettings()


def _checked(name: str, value: float) -> Any:
    form = FORMS.get(name)
    if form is None:
        raise ValueError(f"`{name}` is no setting; there are {', '.join(FORMS)}.")
    number(name, value, least=form.least, most=form.most)
    return int(value) if form.is_whole else value
