"""Figures that a manager asks for, and the cases that they count."""

from collections.abc import Mapping

from django.utils.functional import Promise, lazy
from django.utils.translation import gettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence, Shown, counted
from api.wording.labels import IMPORTANCES


def _filled_by_class(values: Mapping[str, Shown]) -> str:
    if values["criticality"]:
        text = gettext("Jobs that got all they requested, for drives of the class {criticality:words}.")
    else:
        text = gettext(
            "Jobs that got all they requested, for drives without a class or for no drive on record."
        )
    return text.format_map(values) + " " + gettext("The rows are those that did not.")


def _did_not_fit_for(values: Mapping[str, Shown]) -> str:
    if values["aspect"]:
        return gettext("What did not fit: {aspect:words}.").format_map(values)
    return gettext("What did not fit is not recorded.")


def _filled_for(words: Promise) -> str:
    return gettext("Filled for drives: {criticality}").format(criticality=str(words).lower())


filled_for = lazy(_filled_for, str)

FIGURE_TITLES: dict[str, str | Promise] = {
    "stock_value": _("Value of stock"),
    "issued": _("Issued"),
    "written_off": _("Written off"),
    "count_corrections": _("Counts that differed"),
    "false_fits": _("Came back as not fitting"),
    "stockouts": _("Jobs without their parts"),
    "stockouts_without_substitutes": _("The same, if nothing had served instead"),
    "excess": _("Above maximum"),
    "dead_stock": _("Dead stock"),
    "insurance": _("Kept as insurance"),
    "late_orders": _("Late orders"),
    "emergency_buys": _("Emergency orders"),
    "wrong_deliveries": _("Wrong deliveries"),
    "wear_due": _("Chain wear due"),
    "jobs_not_ready": _("Jobs not ready"),
    **{f"filled_{name}": filled_for(words) for name, words in IMPORTANCES.items() if name != "unknown"},
    "filled_without_class": _("Filled for drives without a class"),
}
SENTENCES: dict[str, Sentence] = {
    "figure_stockouts": _("Jobs that did not get all they requested, not even with a substitute."),
    "figure_stockouts_without_substitutes": _(
        "Jobs that did not get all they requested, or got it only because a substitute was there."
    ),
    "figure_filled": _filled_by_class,
    "figure_stock_value": _(
        "On hand in any condition, at the price of today. The number is that of items, in each storeroom."
    ),
    "figure_issued": _("Items issued, less what came back unused, at the price of today."),
    "stock_turns": _("At this rate the stock is turned over {turns:.1f} times a year."),
    "figure_written_off": _(
        "Items taken off the books, without worn parts that came back; at the price of today."
    ),
    "figure_count_corrections": _("Counts that found another quantity than the books, out of all counts."),
    "count_found": _("Counted {counted:,}: {change:+} against the books."),
    "figure_false_fits": _(
        "Parts issued on a verdict that came back as not fitting, out of all such issues."
    ),
    "did_not_fit_for": _did_not_fit_for,
    "costs_each": _("One costs {amount:money} {currency}."),
    "no_price_recorded": _("Its price is not recorded."),
    "figure_excess": _("Stock above the maximum of its policy: on hand + on order - reserved."),
    "figure_dead_stock": _("Sprockets in stock that no position in use takes, not even after work."),
    "figure_insurance": _("What is kept as insurance, with the drives that it protects."),
    "figure_late_orders": _("Open orders whose promised day has passed."),
    "figure_emergency_buys": _("Orders of this time that were emergencies, out of all orders."),
    "figure_wrong_deliveries": _(
        "Deliveries of this time that were something else than was ordered, out of those decided."
    ),
    "deliveries_undecided": counted(
        ngettext_lazy(
            "{deliveries:,} more delivery is undecided and not counted.",
            "{deliveries:,} more deliveries are undecided and not counted.",
            "deliveries",
        ),
        "deliveries",
    ),
    "delivered_by": _("Delivered by {supplier}."),
    "figure_wear_due": counted(
        ngettext_lazy(
            "Positions whose chain reaches its wear limit within {days:,} day.",
            "Positions whose chain reaches its wear limit within {days:,} days.",
            "days",
        ),
        "days",
    ),
    "figure_jobs_not_ready": _("Open jobs with parts that are not there, out of those that need parts."),
    "job_lacks_parts": _("Missing: {items}."),
    "day_in_the_future": _("It must not lie after today."),
    "since_after_until": _("It must not lie after the last day."),
    "job_was_answered": counted(
        ngettext_lazy(
            "Its request was {result:words}; the job has {lines:,} line.",
            "Its request was {result:words}; the job has {lines:,} lines.",
            "lines",
        ),
        "lines",
    ),
    "above_maximum": _("The maximum is {maximum:,}."),
    "no_position_takes_it": _("No position in use takes it, not even after work."),
    "insurance_protects": counted(
        ngettext_lazy(
            "It can serve {drives:,} drive in use: {named}.",
            "It can serve {drives:,} drives in use: {named}.",
            "drives",
        ),
        "drives",
    ),
    "order_late": counted(
        ngettext_lazy("{days:,} day late.", "{days:,} days late.", "days"),
        "days",
    ),
    "emergency_order": _("Ordered as an emergency."),
    "wear_limit_due": _("By its inspections the chain reaches its limit on that day."),
}
