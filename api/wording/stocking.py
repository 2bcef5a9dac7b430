"""Why so many are to be kept, and what a back-test showed."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext, ngettext_lazy

from api.wording.figures import NotRecorded, Sentence, Shown, counted, filled

SERVICES = {
    "cycle_service_level": _("the chance that the demand over a lead time does not exceed the reorder point"),
    "fill_rate": _("the share of the demand that is met from the shelf"),
    "no_backorder": _("the chance that the demand over a lead time does not exceed the order-up-to level"),
}

METHODS = {
    "croston": _("Croston's method"),
    "sba": _("The method of Syntetos and Boylan (SBA)"),
    "tsb": _("The method of Teunter, Syntetos and Babai (TSB)"),
}


def _with_units(values: Mapping[str, Shown]) -> str:
    same_age = values["youngest_hours"] == values["oldest_hours"]
    age = _("{oldest_hours:,.0f} h") if same_age else _("{youngest_hours:,.0f} to {oldest_hours:,.0f} h")
    units = ngettext("{units:,} unit", "{units:,} units", values["units"])
    text = _(
        "{number}, in service for {age}, running {hours_per_year:,.0f} h a year. Their lives are Weibull (shape {shape:sig4},"
        " scale {scale_hours:,.0f} h, mean {mean_life_hours:,.0f} h). Each unit may fail within the lead time, and its"
        " replacement again: {pieces_next_year:sig4} pieces are expected in the coming year, {pieces_per_year_long_run:sig4}"
        " a year in the long run."
    )
    shown = {"number": units.format_map(values), "age": str(age).format_map(values)}
    return str(text).format_map({**values, **shown})


def _levels_replayed(text: Any) -> Sentence:
    def sentence(values: Mapping[str, Shown]) -> str:
        who = (
            ngettext(
                "the level in force for {parts:,} part",
                "the levels in force for {parts:,} parts",
                values["parts"],
            )
            if values["levels"] == "in_force"
            else ngettext(
                "the level recommended for {parts:,} part",
                "the levels recommended for {parts:,} parts",
                values["parts"],
            )
        )
        return str(text).format_map({**values, "who": who.format_map(values)})

    return sentence


def _single_spare(values: Mapping[str, Shown]) -> str:
    text = (
        _(
            "While a single spare is on order, {share_away:percent} of the demand finds it away: one pays up to a price of"
            " {price_up_to:,.2f}, at no rate at this price."
        )
        if isinstance(values["rate_from"], NotRecorded)
        else _(
            "While a single spare is on order, {share_away:percent} of the demand finds it away: one pays up to a price of"
            " {price_up_to:,.2f}, or from {rate_from:sig3} requests a year."
        )
    )
    return str(text).format_map(values)


def _measure(values: Mapping[str, Shown]) -> Shown:
    return SERVICES.get(values["service"], values["service"])


def _scope(values: Mapping[str, Shown]) -> str:
    counted = {
        "items": ngettext("{items:,} item", "{items:,} items", values["items"]),
        "periods": ngettext("{periods:,} period", "{periods:,} periods", values["periods"]),
        "origins": ngettext("{origins:,} date", "{origins:,} dates", values["origins"]),
        "exposure": ngettext("next period", "next {exposure_periods:,} periods", values["exposure_periods"]),
        "windows": ngettext("{windows:,} window does", "{windows:,} windows do", values["windows"]),
    }
    text = _(
        "{items} over {periods}: on {origins} each rule predicted the {exposure}, from earlier data only."
        " {windows} not overlap."
    )
    return str(text).format_map({name: part.format_map(values) for name, part in counted.items()})


SENTENCES: dict[str, Sentence] = {
    "demand_poisson": _(
        "Single pieces are requested at a constant rate of {rate_per_year:sig4} a year (Poisson)."
    ),
    "demand_gamma_poisson": _(
        "{events:sig4} requests in {exposure_years:sig4} years and a prior worth {prior_events:sig4} in"
        " {prior_exposure_years:sig4} years give {rate_per_year:sig4} pieces a year. The uncertainty of this rate is included"
        " (gamma-Poisson)."
    ),
    "demand_compound": counted(
        ngettext_lazy(
            "{jobs_per_year:sig4} jobs a year, each taking pieces as the {jobs:,} job on record did ({least:,} to {most:,}):"
            " {rate_per_year:sig4} pieces a year. That both rest on so few jobs is included.",
            "{jobs_per_year:sig4} jobs a year, each taking pieces as one of the {jobs:,} jobs on record did ({least:,} to"
            " {most:,}): {rate_per_year:sig4} pieces a year. That both rest on so few jobs is included.",
            "jobs",
        ),
        "jobs",
    ),
    "demand_intermittent": filled(
        _(
            "{periods_with_demand:,} of {periods:,} periods had a demand ({demand_class:words}: mean interval"
            " {interval_periods:sig3} periods, squared variation of sizes {size_cv2:sig3}). {method_name} forecasts"
            " {rate_per_year:sig4} pieces a year."
        ),
        method_name=lambda values: str(METHODS.get(values["method"], values["method"])),
    ),
    "spread_few_and_large": _(
        "Demands are few and large: {periods_without:,} periods had none, where the usual distribution (negative binomial)"
        " expects {expected_without:sig3} (p = {p_value:.2g}). So demands come one by one at an uncertain rate, each as large"
        " as one on record (compound Poisson)."
    ),
    "spread_negative_binomial": _(
        "The record supports the usual distribution of pieces (negative binomial): {periods_without:,} periods had none,"
        " {expected_without:sig3} are expected (p = {p_value:.2g})."
    ),
    "no_demand_in_record": counted(
        ngettext_lazy(
            "In {periods:,} period there was no demand.",
            "In {periods:,} periods there was no demand.",
            "periods",
        ),
        "periods",
    ),
    "demand_from_unit_ages": _with_units,
    "demand_given": _("The distribution of the demand was given."),
    "lead_time_fixed": _(
        "Over a lead time of {lead_time_days:sig4} days {expected_pieces:sig3} pieces are expected; the chance of none is"
        " {chance_of_none:percent}."
    ),
    "lead_time_varies": _(
        "Over a lead time of {lead_time_days:sig4} days (standard deviation {lead_time_sd_days:sig4} days; gamma, orders do not"
        " cross) {expected_pieces:sig3} pieces are expected; the chance of none is {chance_of_none:percent}."
    ),
    "holds_for_first_lead_time": _(
        "This holds for the lead time of {lead_time_days:sig4} days that begins now: units age, and later ones differ. Give"
        " horizon_days for an answer that holds longer."
    ),
    "holds_within_horizon": _(
        "This holds for every lead time that begins within {horizon_days:sig4} days: it is for the busiest one, which begins in"
        " {from_day} days and needs {pieces_then:sig3} pieces on average. The one that begins now needs {pieces_now:sig3}, one"
        " in the long run {pieces_in_the_long_run:sig3}."
    ),
    "service_reached": filled(
        _(
            "Target: {service:words} {target:percent}, {measure}. The smallest stock that reaches it gives"
            " {achieved:percent}."
        ),
        measure=_measure,
    ),
    "service_reached_without_stock": filled(
        _("Target: {service:words} {target:percent}, {measure}. Without any stock it is {achieved:percent}."),
        measure=_measure,
    ),
    "stock_costs_less": _(
        "Keeping stock costs {cost_with_stock:,.2f} a year with downtime and orders, keeping none {cost_without_stock:,.2f}."
    ),
    "no_stock_costs_less": _(
        "Keeping none costs {cost_without_stock:,.2f} a year in downtime and orders, the cheapest stock {cost_with_stock:,.2f}."
    ),
    "single_spare_break_even": _single_spare,
    "order_at_reorder_point": _(
        "Order when on hand + on order - reserved falls to {reorder_point:,}, up to {order_up_to:,}."
    ),
    "keep_none": _(
        "Keep none. Order when a piece is requested, and check again when the demand or the lead time changes."
    ),
    "no_demand_expected": _("No demand is expected."),
    "shortages_each_year": _(
        "{fill_rate:percent} of the demand is met from the shelf; {pieces_per_year:sig3} pieces a year are missing when they are"
        " requested."
    ),
    "shortage_once_in_years": _(
        "{fill_rate:percent} of the demand is met from the shelf; a piece is missing about once in {once_in_years:sig3} years."
    ),
    "shortage_very_rare": _(
        "{fill_rate:percent} of the demand is met from the shelf; a piece is missing less than once in"
        " {once_in_more_than_years:,.0f} years."
    ),
    "chances_cut_short": _(
        "lead_time_demand lists the first {listed:,} chances; the chance of more pieces is {chance_of_more:sig3}."
    ),
    "backtest_scope": _scope,
    "promise_kept": _(
        "Promised {promised:percent4}, the recommended rule achieved {achieved:percent4} (likely {low:percent4} to"
        " {high:percent4}): the promise was kept, within what chance explains. On single dates it was"
        " {worst_origin:percent4} to {best_origin:percent4}."
    ),
    "promise_missed": _(
        "Promised {promised:percent4}, the recommended rule achieved {achieved:percent4} (likely {low:percent4} to"
        " {high:percent4}): it missed its promise; expect {achieved:percent4}. On single dates it was"
        " {worst_origin:percent4} to {best_origin:percent4}."
    ),
    "promise_exceeded": _(
        "Promised {promised:percent4}, the recommended rule achieved {achieved:percent4} (likely {low:percent4} to"
        " {high:percent4}): it kept its promise and holds a little more than necessary. On single dates it was"
        " {worst_origin:percent4} to {best_origin:percent4}."
    ),
    "levels_kept_promise": _levels_replayed(
        _(
            "Over the {requests:,} requests of the record {who} would have met {achieved:percent4} from the shelf (likely {low:percent4}"
            " to {high:percent4}), and promised {promised:percent4}: the promise holds, within what chance explains."
        )
    ),
    "levels_missed_promise": _levels_replayed(
        _(
            "Over the {requests:,} requests of the record {who} would have met {achieved:percent4} from the shelf (likely {low:percent4}"
            " to {high:percent4}), and promised {promised:percent4}: expect {achieved:percent4}."
        )
    ),
    "levels_exceeded_promise": _levels_replayed(
        _(
            "Over the {requests:,} requests of the record {who} would have met {achieved:percent4} from the shelf (likely {low:percent4}"
            " to {high:percent4}), more than the {promised:percent4} promised: they are on the safe side."
        )
    ),
    "no_rule_kept_promise": _("No rule kept {promised:percent4}."),
    "other_rule_kept_promise": _(
        "At {promised:percent4} the rule “{rule:words}” kept the promise, with {mean_leftover:sig3} pieces left over per item and window"
        " instead of {recommended_leftover:sig3}."
    ),
    "other_rule_left_less": _(
        "At {promised:percent4} the rule “{rule:words}” kept the promise too and left less over: {mean_leftover:sig3} pieces per item and"
        " window instead of {recommended_leftover:sig3}."
    ),
    "too_few_misses_expected": _(
        "At {promised:percent4} only {expected_misses:.2g} misses are expected in {windows:,} windows. The history is too short,"
        " or has too few items, to tell this promise from a lower one."
    ),
    "achieved_service_uncertain": _(
        "With so few windows the service at {promised:percent4} is known only to {half_interval_points:.1f} percentage points."
    ),
    "promise_for_all_items": _(
        "A promise is for all items together, not for each of them. The intervals treat windows as independent; where demands"
        " rise and fall together they should be wider."
    ),
    "scores_of_part_of_items": _("The scores are of one item in {every:,}."),
    "rows_thinned": _("To answer in time, one row in {every:,} of {rows:,} was replayed."),
    "record_too_short": _(
        "The record has {months:,} complete months and {items:,} requested items. A back-test needs {months_needed:,} months:"
        " {months_to_learn:,} to learn from and {exposure_months:,} to compare with."
    ),
    "planned_requests_left_out": counted(
        ngettext_lazy(
            "{count:,} planned request is known in advance and left out.",
            "{count:,} planned requests are known in advance and left out.",
            "count",
        )
    ),
    "chain_requests_left_out": counted(
        ngettext_lazy(
            "{count:,} request for chain by the link is left out.",
            "{count:,} requests for chain by the link are left out.",
            "count",
        )
    ),
    "requests_without_item_left_out": counted(
        ngettext_lazy(
            "{count:,} request that names no item is left out.",
            "{count:,} requests that name no item are left out.",
            "count",
        )
    ),
    "requests_before_record_left_out": counted(
        ngettext_lazy(
            "{count:,} request from before the record of its storeroom is complete is left out.",
            "{count:,} requests from before the record of their storeroom is complete are left out.",
            "count",
        )
    ),
    "items_of_short_records_left_out": counted(
        ngettext_lazy(
            "{count:,} item of a storeroom with too short a record is left out.",
            "{count:,} items of storerooms with too short a record are left out.",
            "count",
        )
    ),
    "requests_this_month_left_out": counted(
        ngettext_lazy(
            "{count:,} request of the month that has not ended is left out.",
            "{count:,} requests of the month that has not ended are left out.",
            "count",
        )
    ),
    "large_demands_left_out": counted(
        ngettext_lazy(
            "{count:,} item with a demand of more than {limit:,} pieces over one exposure is left out.",
            "{count:,} items with a demand of more than {limit:,} pieces over one exposure are left out.",
            "count",
        )
    ),
    "items_without_price": counted(
        ngettext_lazy(
            "{count:,} item has no price in {currency} and is not in the spend.",
            "{count:,} items have no price in {currency} and are not in the spend.",
            "count",
        )
    ),
    "no_item_priced": counted(
        ngettext_lazy("{count:,} item has no price.", "{count:,} items have no price.", "count")
    ),
    "only_requested_items": _("Items that were never requested are not part of this record."),
    "incomplete_rows_left_out": counted(
        ngettext_lazy(
            "{count:,} row with a missing period was left out.",
            "{count:,} rows with a missing period were left out.",
            "count",
        )
    ),
}
