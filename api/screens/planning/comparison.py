"""The policy of today beside the recommended one, in the same figures, and the main reason."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from api.wording.figures import ShownNumber
from api.wording.sentences import sentence
from inventory.facts import Fact, fact_from_json
from inventory.models import Recommendation
from inventory.planning.policy_inputs import PolicyLevels, levels_fact, levels_from_json, levels_of

DECISIVE = frozenset(
    {
        *(
            "same_part_kept_as",
            "kept_in_storeroom",
            "none_cheaper",
            "none_cheaper_but_vital",
            "costs_alike",
            "kept_as_insurance",
        ),
        *("no_unplanned_demand", "no_demand_for_stock", "tolerable_wait_not_compared"),
        *("expedited_in_tolerable_wait", "expedited_after_tolerable_wait"),
    }
)
"""Reasons that alone decide whether a part is stocked."""
TO_ENTER = frozenset({"enter_lead_time_first", "cannot_be_calculated", "least_cost_not_known"})
SHARES = ("fill_rate", "cycle_service_level")


@dataclass(frozen=True, kw_only=True)
class PolicyFigures:
    """Levels and what they achieve; None where not known. `levels` is None where no policy is set."""

    levels: PolicyLevels | None
    stockouts_per_year: float | None = None
    fill_rate: float | None = None
    pieces_per_job: float = 1.0
    mean_on_hand: float | None = None
    tied_up: Decimal | None = None
    holding_cost_per_year: Decimal | None = None

    @property
    def levels_text(self) -> str:
        return sentence(levels_fact(self.levels))

    @property
    def shortages_per_year(self) -> float | None:
        """Jobs that find too few pieces; each may need several."""
        short = self.stockouts_per_year
        return None if short is None else short / self.pieces_per_job

    @property
    def is_stocked(self) -> bool:
        return self.levels is not None and self.levels.stocked


def today_of(recommendation: Recommendation) -> PolicyFigures:
    return _figures(recommendation.today, None)


def then_of(recommendation: Recommendation, figures: dict[str, Any] | None = None) -> PolicyFigures:
    """`figures` are those of the evidence, or what was loaded of them."""
    known = {
        "expected_stockouts_per_year": recommendation.expected_stockouts_per_year,
        "fill_rate": recommendation.fill_rate,
        "holding_cost_per_year": recommendation.holding_cost_per_year,
    }
    return _figures({**(figures or {}), **known}, levels_of(recommendation))


def _figures(figures: dict[str, Any], levels: PolicyLevels | None) -> PolicyFigures:
    return PolicyFigures(
        levels=levels or levels_from_json(figures),
        stockouts_per_year=figures.get("expected_stockouts_per_year"),
        fill_rate=figures.get("fill_rate"),
        pieces_per_job=figures.get("pieces_per_job") or 1.0,
        mean_on_hand=figures.get("mean_on_hand"),
        tied_up=_money(figures.get("tied_up")),
        holding_cost_per_year=_money(figures.get("holding_cost_per_year")),
    )


def _money(value: Decimal | str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def shortages_avoided(
    rate_per_year: float,
    today: dict[str, Any],
    *,
    expected_stockouts_per_year: float | None,
    pieces_per_job: float | None,
) -> float:
    """Jobs a year that find too few pieces today, less those under the recommendation; without a policy every job does."""
    if expected_stockouts_per_year is None:
        return 0.0
    known = today.get("expected_stockouts_per_year")
    pieces = float(rate_per_year if known is None else known) - expected_stockouts_per_year
    return pieces / (pieces_per_job or 1.0)


def why(recommendation: Recommendation) -> str:
    """What is missing, what alone decides, or the service against its target; else the first reason."""
    if not recommendation.is_answered:
        return _first_reason(recommendation, TO_ENTER) or _first_reason(recommendation)
    decisive = _first_reason(recommendation, DECISIVE)
    if decisive and not recommendation.stocked:
        return decisive
    return _against_target(recommendation) or decisive or _first_reason(recommendation)


def _first_reason(recommendation: Recommendation, codes: frozenset[str] = frozenset()) -> str:
    """The first reason of these codes, or of any."""
    found = (reason for reason in recommendation.explanation if not codes or reason["code"] in codes)
    return next((_plain(fact_from_json(reason)) for reason in found), "")


def _plain(reason: Fact) -> str:
    """Without the statistics, which the page of the recommendation has."""
    if reason.code == "wear_shown":
        n = reason.values["failures"]
        text = ngettext(
            "{n} unit wore out: it is due by the age of what is fitted.",
            "{n} units wore out: it is due by the age of what is fitted.",
            n,
        )
        return text.format(n=n)
    if reason.code == "requests_of_positions":
        n = reason.values["positions"]
        text = ngettext(
            "{requests} unplanned requests on record; {n} position could need it.",
            "{requests} unplanned requests on record; {n} positions could need it.",
            n,
        )
        return text.format(requests=reason.values["requests"], n=n)
    return sentence(reason)


def _against_target(recommendation: Recommendation) -> str:
    kind, target = recommendation.target_kind, recommendation.target_value
    reached = recommendation.today.get(kind) if kind in SHARES else None
    if reached is None or target is None:
        return ""
    name = recommendation.get_target_kind_display()
    text = (
        _("Below target: {kind} {today:g} % today, target {target:g} %.")
        if reached < target
        else _("Above target: {kind} {today:g} % today, target {target:g} %.")
    )
    shown = {"today": ShownNumber(min(round(100 * reached, 1), 99.9)), "target": ShownNumber(100 * target)}
    return text.format(kind=name, **shown)
