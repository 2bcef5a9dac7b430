"""How many to keep, what to order and what to buy next: the reasons, notes and refusals of `inventory.planning`."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import NotRecorded, Phrase, Sentence, Shown, counted, filled
from api.wording.stocking import SERVICES

KINDS = {
    "fill_rate": _("fill rate"),
    "cycle_service_level": _("cycle service level"),
    "no_backorder": _("no-backorder rate"),
}

INPUTS = {
    "rate_per_year": _("Demand a year"),
    "planned_per_year": _("Planned demand a year"),
    "events": _("Number of demand events"),
    "model": _("Demand model"),
    "lead_time_days": _("Mean lead time in days"),
    "lead_time_sd_days": _("Standard deviation of the lead time in days"),
    "target": _("Target"),
    "importance": _("Importance"),
    "unit_cost": _("Price"),
    "holding_reason": _("Holding reason"),
    "lifecycle": _("Lifecycle"),
    "kept_as": _("Stock number that it is kept under"),
    "kept_in": _("Storeroom that keeps it"),
    "keeps_for": _("List of storerooms that share this stock"),
    "members": _("List of stock numbers of the same part"),
    "downtime_per_hour": _("Cost of an hour of downtime"),
    "hours_to_expedite": _("Number of hours to an emergency delivery"),
    "notice": _("Notice that inspections give of wear"),
    "terms": _("Set of stocking terms"),
    "policy": _("Policy in force"),
}
"""Names of the inputs of a recommendation, as the subject of a sentence."""

IN_WORDS = ("model", "importance", "holding_reason", "lifecycle")
"""Inputs that are a word of the vocabulary."""

YEARLY_COSTS = _(
    "with stock {cost_with_stock:money} {currency} a year for holding, orders and downtime,"
    " without stock {cost_without_stock:money} {currency}"
    " (an emergency order takes {hours_to_expedite:sig3} hours, {basis})"
)


def _with_costs(text: Promise) -> Phrase:
    return lambda values: str(text).format(costs=str(YEARLY_COSTS).format_map(values))


def _of_kind(text: Promise) -> Phrase:
    def written(values: Mapping[str, Shown]) -> str:
        kind = values["kind"]
        names = {"kind": KINDS.get(kind, kind), "meaning": SERVICES.get(kind, kind)}
        return str(text).format(importance=values["importance"], target=values["target"], **names)

    return written


def _target_input(values: Mapping[str, Shown]) -> str:
    kind, wait = values["kind"], values["tolerable_wait_hours"]
    target = (
        _now("least cost")
        if kind == "cost"
        else _now("{kind} {target:percent}").format(kind=KINDS.get(kind, kind), target=values["target"])
    )
    if isinstance(wait, NotRecorded):
        return target
    return _now("{target}, acceptable stop {wait:sig3} h").format(target=target, wait=wait)


def _input_changed(values: Mapping[str, Shown]) -> str:
    words = "words" if values["input"] in IN_WORDS else ""
    before, after = (
        f"{value:sig3}" if isinstance(value, int | float) else f"{value:{words}}"
        for value in (values["before"], values["after"])
    )
    text = _now("{input} changed from {before} to {after}.")
    return text.format(input=_input(values), before=before, after=after)


def _input(values: Mapping[str, Shown]) -> Shown:
    return INPUTS.get(values["input"], values["input"])


LEAD_TIME: dict[str, Sentence] = {
    "lead_time_without_spread": _("Lead time {mean_days:sig3} days."),
    "lead_time_with_spread": _("Lead time {mean_days:sig3} days (standard deviation {sd_days:sig3} days)."),
    "lead_time_from_orders_here": _("From {orders} orders of this item for this storeroom."),
    "lead_time_from_orders_everywhere": _(
        "From {orders} orders of this item for all storerooms (for this storeroom alone: {orders_here})."
    ),
    "lead_time_entered": _("As entered, without a spread (received orders of this item: {orders})."),
    "lead_time_borrowed": _("Borrowed from {orders} orders of other items: enter the lead time."),
    "lead_time_counted_as_a_minute": _(
        "They were received as soon as they were ordered: one minute is used."
    ),
    "expedite_hours_from_terms": _("as set in the stocking terms"),
    "emergency_orders_of_item": counted(
        ngettext_lazy(
            "from {orders} emergency order of this item",
            "from {orders} emergency orders of this item",
            "orders",
        ),
        "orders",
    ),
    "emergency_orders_of_all": counted(
        ngettext_lazy(
            "from {orders} emergency order of all items",
            "from {orders} emergency orders of all items",
            "orders",
        ),
        "orders",
    ),
    "wear_notice_too_short": _(
        "Inspections show {wear_share:percent} of the demand {notice_days:.0f} days ahead. That is too short:"
        " an order takes up to {late_delivery_days:.0f} days, and {planning_days:sig3} days to send,"
        " so stock covers wear too."
    ),
    "wear_notice_in_time": _(
        "Inspections show {wear_share:percent} of the demand {notice_days:.0f} days ahead, and an order takes up to"
        " {late_delivery_days:.0f} days, and {planning_days:sig3} days to send: worn parts are ordered when"
        " inspections show them, and stock covers the sudden failures."
    ),
    "order_for_position": _(
        "Order for {position} by {order_by}: with an order on that day the chance is {chance:percent} that the wear limit comes"
        " before the delivery."
    ),
    "holds_every_year": _("The rate is taken as constant, so what is said for a year holds for every year."),
    "holds_until_review": _(
        "The units age, so not every lead time is alike. The levels and what they achieve hold until the review in"
        " {review_days} days: they are for the busiest lead time before it, which begins in {from_day} days and needs"
        " {pieces_then:sig3} pieces on average. The one that begins today needs {pieces_now:sig3}, one in the long run"
        " {pieces_in_the_long_run:sig3}."
    ),
}

STOCK_AT_ALL: dict[str, Sentence] = {
    "kept_for_storeroom": _(
        "Kept here for storeroom {storeroom} too, {minutes} minutes away: fetching it from here costs"
        " {fetching_cost:money} {currency} of downtime a year, a piece of its own there {holding_cost:money} {currency} for"
        " holding. The stock there counts here."
    ),
    "kept_for_storeroom_without_demand": _(
        "Storeroom {storeroom}, {minutes} minutes away, has no demand of its own: its stock counts here."
    ),
    "same_part_kept_as": _("The same part is kept as {stock_number}: use these up first."),
    "kept_in_storeroom": _(
        "Storeroom {storeroom}, {minutes} minutes away, keeps it for this one too: buy none here. The stock here counts there."
    ),
    "item_run_down": _("{stock_number} is being run down: use up the stock, buy none."),
    "item_blocked": _("{stock_number} is blocked: buy none."),
    "no_unplanned_demand": _(
        "There were no unplanned requests, and no position served from here is known to need it: keep none."
    ),
    "no_demand_for_stock": _("No demand is expected from stock: keep none."),
    "insurance_ends": _(
        "A person decided to keep it as insurance: check first that nothing is left uninsured."
    ),
    "kept_as_insurance": _("A person decided to keep it as insurance, so at least one stays in stock."),
    "by_numbers_alone": _("By the numbers alone: {finding}"),
    "enter_lead_time_first": _(
        "It cannot be answered yet: enter the lead time of {stock_number}, or its orders and receipts."
    ),
    "cannot_be_calculated": _("It cannot be calculated: {message}."),
    "levels_stay_until_then": _("Until then, today's levels stay."),
    "tolerable_wait_not_compared": _(
        "A stop of {tolerable_wait_hours:sig3} hours is acceptable for {importance:words} parts:"
        " enter the hours of an emergency delivery to see whether an emergency order is as quick."
    ),
    "expedited_in_tolerable_wait": _(
        "A stop of {tolerable_wait_hours:sig3} hours is acceptable for {importance:words} parts, and an emergency"
        " order takes {hours_to_expedite:sig3} hours ({basis}): keep none."
    ),
    "expedited_after_tolerable_wait": _(
        "A stop of {tolerable_wait_hours:sig3} hours is acceptable for {importance:words} parts, but an emergency"
        " order takes {hours_to_expedite:sig3} hours ({basis})."
    ),
    "costs_not_compared": _("Whether stock is cheaper than none was not calculated: enter {missing}."),
    "stock_cheaper": _with_costs(_("Keeping stock is cheaper: {costs}.")),
    "none_cheaper": _with_costs(_("Keeping none is cheaper: {costs}.")),
    "none_cheaper_but_vital": _with_costs(
        _("Keeping none would be cheaper: {costs}. But the part is vital, so it is kept.")
    ),
    "costs_alike": _with_costs(
        _(
            "Keeping stock costs about as much as keeping none: {costs}. That decides nothing, so what is kept today stays."
        )
    ),
    "spare_pays_from_positions": filled(
        _(
            "While a spare is on order ({days_away:sig3} days), {share_away:percent} of the demand finds it away. One pays from"
            " {positions_from:,} positions like these ({count} today), from {rate_from:sig3} requests a year"
            " ({rate_per_year:sig3} today), or up to a price of {price_up_to:money} {currency}."
        ),
        count=counted(ngettext_lazy("1 position", "{positions:,} positions", "positions"), "positions"),
    ),
    "spare_pays_from_rate": _(
        "While a spare is on order ({days_away:sig3} days), {share_away:percent} of the demand finds it away. One pays from"
        " {rate_from:sig3} requests a year ({rate_per_year:sig3} today), or up to a price of {price_up_to:money} {currency}."
    ),
    "without_spare_waits_for_order": _(
        "No emergency delivery of it is known: without a spare a stop waits for an ordinary order, {days:sig3} days."
    ),
    "spare_never_pays": _(
        "While a spare is on order ({days_away:sig3} days), {share_away:percent} of the demand finds it away, and holding it"
        " until then costs more than a stop: at this price it pays at no rate, only up to a price of {price_up_to:money}"
        " {currency}."
    ),
    "least_cost_not_known": _("The target is least cost, and it cannot be calculated: enter {missing}."),
    "least_cost_with_stock": _with_costs(_("The target is least cost. Keeping stock is cheaper: {costs}.")),
    "least_cost_without_stock": _with_costs(_("The target is least cost. Keeping none is cheaper: {costs}.")),
    "enter_unit_cost": _("the price of {stock_number}"),
    "enter_order_cost": _("the cost of an order in {currency} in the stocking terms"),
    "enter_downtime_cost": _("the cost of an hour's stop of its drives, in {currency}"),
    "enter_hours_to_expedite": _("the hours of an emergency delivery in the stocking terms"),
}

HOW_MANY: dict[str, Sentence] = {
    "ordered_one_by_one": _("Ordered one at a time; for an order quantity of least cost, enter {missing}."),
    "ordered_by_the_job": _(
        "Ordered by the job, about {quantity} at a time; for an order quantity of least cost, enter {missing}."
    ),
    "order_quantity_of_least_cost": _(
        "An order costs {order_cost:money} {currency}, so {quantity} are ordered at a time."
    ),
    "order_quantity_of_a_year": _(
        "An order costs {order_cost:money} {currency}: {cheapest_quantity} at a time would be cheapest, but that is"
        " more than a year's demand, so {quantity} are ordered."
    ),
    "service_target": _of_kind(
        _("The target for {importance:words} parts is a {kind} of {target:percent}: {meaning}.")
    ),
    "service_target_default": _of_kind(
        _(
            "The target for {importance:words} parts is a {kind} of {target:percent}"
            " (start value, common practice, no source): {meaning}."
        )
    ),
    "target_met_without_stock": _("It is reached without stock: keep none."),
    "levels_recommended": _(
        "So order when on hand + on order - reserved has fallen to {reorder_point}, up to {order_up_to}."
    ),
}

OUTCOME: dict[str, Sentence] = {
    "expected_service": _(
        "It then runs out {shortages_per_year:often}, and {fill_rate:percent} of the demand is met from stock."
    ),
    "expected_service_in_the_long_run": _(
        "With the same levels it would in the long run, after that review, run out {shortages_per_year:often}, with"
        " {fill_rate:percent} of the demand met from stock."
    ),
    "bought_when_needed": _("It is bought when it is needed, {shortages_per_year:often}."),
    "expected_cost": _(
        "The stock ties up {tied_up:money} {currency} on average and costs {holding_cost_per_year:money} {currency}"
        " a year to hold."
    ),
    "tied_up_not_known": _("How much money it ties up is not known: enter the price of {stock_number}."),
    "holding_rate_default": _(
        "Holding a piece is assumed to cost {rate_per_year:percent} of its price a year"
        " (start value, common practice, no source)."
    ),
    "planned_in_addition": _(
        "Another {planned_per_year:sig3} a year are planned: they are reserved for their jobs and ordered in addition."
    ),
    "no_levels_today": _("No levels are set today."),
    "same_levels_today": _("These are today's levels."),
    "other_levels_today": _("Today's levels: {levels}."),
    "service_today": _(
        "Today it runs out {shortages_per_year:often}, and {fill_rate:percent} of the demand is met from stock."
    ),
    "bought_when_needed_today": _("Today it is bought when it is needed, {shortages_per_year:often}."),
    "change_ties_up": _("The change ties up {amount:money} {currency}."),
    "change_frees": _("The change frees {amount:money} {currency}."),
    "levels": _("order at {reorder_point} up to {order_up_to}"),
    "levels_none": _("none held"),
    "levels_not_set": _("nothing set"),
}

SINCE_LAST: dict[str, Sentence] = {
    "recorded_text": _("{text}"),
    "input_changed": _input_changed,
    "input_changed_in_part": filled(_("{input} changed."), input=_input),
    "records_changed": _("The records behind it changed."),
    "calculated_again": _("It was calculated again."),
    "advice_unchanged": _("The advice is still: {levels}."),
    "advice_changed": _("The advice changed from {before} to {after}."),
    "target_input": _target_input,
    "amount_input": _("{amount} {currency}"),
}

REORDER_LIST: dict[str, Sentence] = {
    "ordered_after_return": _(
        "Lent out and expected back by {back_on}: {pieces}. Nothing is ordered until then."
    ),
    "chain_pieces_serve_jobs": counted(
        ngettext_lazy(
            "{links:,} links in {pieces:,} pieces: free for {jobs:,} job of {links_per_job} links.",
            "{links:,} links in {pieces:,} pieces: free for {jobs:,} jobs of {links_per_job} links.",
            "jobs",
        ),
        "jobs",
    ),
    "chain_remnants": _(
        "{pieces:,} pieces, {links:,} links in all, the longest {longest_links}, are shorter than any job on record"
        " ({shortest_job_links} links): use them up or scrap them first."
    ),
    "return_counted": _("Lent out and expected back by {back_on}: {pieces}. They are counted as stock."),
    "return_overdue": _("Lent out and overdue: {pieces}. Ask for them before you order."),
    "lifecycle_ends": _("{stock_number} is {lifecycle:words}: see its recommendation before you buy."),
    "lies_in_storeroom": _("{pieces} of them in storeroom {storeroom}, {minutes} minutes away."),
    "counted_with_storeroom": _(
        "Stock in storeroom {storeroom} counts here: its own policy ({reorder_point}/{order_up_to}) needs a decision."
    ),
    "counted_with_same_part": _(
        "{stock_number} is the same part, and its pieces count here: its own policy"
        " ({reorder_point}/{order_up_to}) needs a decision."
    ),
}

BUDGET: dict[str, Sentence] = {
    "price_not_known": _("Its price is not known: enter the price."),
    "price_in_other_currency": _("Its price is in {currency}, the budget in {budget_currency}."),
    "downtime_cost_not_known": _(
        "What its absence costs is not known: enter the cost of an hour's stop of its drives, in {currency}."
    ),
    "lead_time_not_known": _("Its lead time is not known: enter the lead time."),
    "bought_by_downtime_avoided": _(
        "Purchases are in the order of downtime cost avoided per unit of money, with pieces kept one for one."
    ),
    "downtime_of_the_drives_that_stop": _(
        "An hour costs what it costs at the drives that the part stops, by how often each stood for it. A renewal on a chosen day"
        " stops none: at a limit that an inspection saw, together with such a unit, or of chain that was just measured worn."
    ),
    "bought_by_the_job": _(
        "Where a job takes several pieces, they are bought by the job and stop its drive once."
    ),
    "storerooms_weighed_by_reach": _(
        "Storerooms that share the stock of a part are weighed as one. Elsewhere, a missing piece that lies in another"
        " storeroom costs the minutes of the transfer. Where no transfer time is recorded, a storeroom is by itself."
    ),
    "short_chain_not_counted": _(
        "Chain counts by the jobs of the length that nine in ten jobs need. A piece that is only long enough for a shorter job"
        " counts as none, so chain may cost less than is shown here."
    ),
    "shortage_waits_for_emergency_order": _(
        "Parts with known hours to an emergency delivery: {parts}. A missing piece costs these hours, times the cost of"
        " an hour of downtime."
    ),
    "shortage_waits_for_ordinary_order": _(
        "Parts without known hours to an emergency delivery: {parts}. A missing piece costs downtime until its ordinary"
        " order arrives, in all {hours_per_year:,.0f} hours of a year."
    ),
    "downtime_of_a_year": _(
        "A year with today's stock is expected to cost {cost:money} {currency}. {cost_without_stock:money} of it is for parts of"
        " which nothing is in stock or on order."
    ),
    "more_stops_than_recorded": _(
        "The {stops:,} stops on record ({since} to {until}) would cost {cost_of_recorded_stops:money} {currency} a year with"
        " today's stock. The other {cost_not_seen:money} are for stops that may come first: units that age, and parts whose kind"
        " failed elsewhere."
    ),
    "fewer_stops_than_recorded": _(
        "The {stops:,} stops on record ({since} to {until}) would cost {cost_of_recorded_stops:money} {currency} a year with"
        " today's stock, {cost_too_much:money} more: fewer stops are expected than were recorded."
    ),
    "waits_on_record": counted(
        ngettext_lazy(
            "{waits:,} stop on record waited for a part that was not there, from the request to the issue. That cost {cost:money}"
            " {currency} a year. The stock was another one then, and a part that was issued without a request shows no wait.",
            "{waits:,} stops on record waited for a part that was not there, from the request to the issue. That cost {cost:money}"
            " {currency} a year. The stock was another one then, and a part that was issued without a request shows no wait.",
            "waits",
        ),
        "waits",
    ),
    "recorded_waits_without_end": counted(
        ngettext_lazy(
            "{waits:,} of these waits counts no hours: the issue of its part is not on record.",
            "{waits:,} of these waits count no hours: the issues of their parts are not on record.",
            "waits",
        ),
        "waits",
    ),
    "recorded_waits_without_price": counted(
        ngettext_lazy(
            "{waits:,} of these waits counts no money: its drive has no price of an hour in this currency.",
            "{waits:,} of these waits count no money: their drives have no price of an hour in this currency.",
            "waits",
        ),
        "waits",
    ),
}

REFUSALS: dict[str, Sentence] = {
    "recommendation_not_answered": _(
        "It is not answered yet, so there is nothing to accept: enter what its explanation names, or amend it with"
        " levels of your own."
    ),
    "recommendation_superseded": _("A newer recommendation has replaced it: use the newest one."),
    "recommendation_not_decided": _("Nobody has decided it: there is nothing to take back."),
    "policy_set_since_decision": _(
        "The stock policy was set again after this decision: change the policy, not the decision."
    ),
    "recommendation_already_decided": _(
        "{decided_by} has already decided it: it is {state:words}. It opens again when its inputs change."
    ),
    "reorder_point_below_zero": _("Give 0 or more, or -1 together with order_up_to 0 to keep none."),
    "order_up_to_too_low": _("It must be above reorder_point, {reorder_point}."),
    "order_up_to_too_high": _("It must be at most {limit:,}."),
    "decision_reason_required": _("Say why, in 1 to {longest} characters."),
    "run_under_way": _(
        "Run {run}, started by {started_by}, is under way: wait for it to end, then start again."
    ),
    "other_run_under_way": _("Another run is under way: wait for it to end, then start again."),
    "run_interrupted": _("It was interrupted; what it had stored stays. Start another run."),
    "run_failed": _("It stopped with an error: {message}"),
}

SENTENCES: dict[str, Sentence] = {
    **LEAD_TIME,
    **STOCK_AT_ALL,
    **HOW_MANY,
    **OUTCOME,
    **SINCE_LAST,
    **REORDER_LIST,
    **BUDGET,
    **REFUSALS,
}
