"""Every reason of every recommendation of the demo plant against the rows that are shown beside it.

A code without a check fails: a reason that rests on no row has to be named in `WITHOUT_ROWS`, with why.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from drives.models import Drive, Position
from inventory.models import Item, Recommendation, Storeroom, SupplyOrder, TransferTime
from inventory.stores.lead_times import COMPLETE

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]

Values = Mapping[str, Any]
Check = Callable[[Values, Recommendation], bool]

WITHOUT_ROWS = {
    # What a person entered or the plant set; shown with its value in the reason itself.
    *("costs_not_compared", "enter_lead_time_first", "holding_rate_default", "no_levels_today"),
    *("item_run_down", "item_blocked", "insurance_ends", "kept_as_insurance", "levels_stay_until_then"),
    *("tolerable_wait_not_compared", "target_met_without_stock", "tied_up_not_known", "by_numbers_alone"),
    *("expedited_in_tolerable_wait", "expedited_after_tolerable_wait", "no_demand_for_stock"),
    *("ordered_one_by_one", "ordered_by_the_job", "order_quantity_of_least_cost", "order_quantity_of_a_year"),
    # Sums that the cores' own tests hold; the record shows no rows of them.
    *("stock_cheaper", "none_cheaper", "none_cheaper_but_vital", "least_cost_not_known"),
    *("least_cost_with_stock", "least_cost_without_stock", "family_not_alike", "demand_fading"),
    *("lead_time_counted_as_a_minute", "no_wear_distribution_fits", "holds_every_year"),
}
NEAR = 1e-6


def close(one: float, two: float) -> bool:
    return one == pytest.approx(two, rel=1e-6, abs=NEAR)


def years(begin: str, end: str) -> float:
    span = datetime.fromisoformat(end) - datetime.fromisoformat(begin)
    return max(span.total_seconds() / 86_400 / 365, 1 / 12)


def record_years(r: Recommendation) -> float:
    return years(r.evidence["pool"]["record_from"], r.evidence["pool"]["record_until"])


def job_of(row: Values) -> Any:
    if row["work_order"]:
        return row["work_order"]
    return datetime.fromisoformat(row["at"]).astimezone(UTC).date(), row["position"] or row["item"]


def unplanned(r: Recommendation) -> list[Values]:
    return [row for row in r.evidence["events"] if not row["is_planned"]]


def pool_tags(r: Recommendation) -> set[str]:
    return {row["position"] for row in r.evidence["pool"]["positions"]}


def own(r: Recommendation) -> list[Values]:
    """Rows of the positions listed; what names another kind of part there is a part of its own."""
    listed = pool_tags(r)
    return [row for row in unplanned(r) if row["position"] in listed]


def jobs(rows: list[Values]) -> set[Any]:
    return {job_of(row) for row in rows}


def others(r: Recommendation) -> set[Any]:
    listed = pool_tags(r)
    return jobs([row for row in unplanned(r) if row["position"] not in listed])


def worn_out(r: Recommendation, usable: bool = True) -> int:
    return sum(
        life["counts_as"] == "worn_out" and (not usable or (life["hours"] or 0) > 0)
        for life in r.evidence["lives"]
    )


def pieces_by_job(r: Recommendation) -> Counter[Any]:
    found: Counter[Any] = Counter()
    for row in unplanned(r):
        found[job_of(row)] += row["quantity"]
    return found


def months(r: Recommendation) -> int:
    return len({datetime.fromisoformat(row["at"]).astimezone(UTC).strftime("%Y-%m") for row in unplanned(r)})


def requests_of_positions(v: Values, r: Recommendation) -> bool:
    rows = r.evidence["pool"]["positions"]
    shown = sum(row["pieces_unplanned"] for row in rows)
    return (
        (v["requests"], v["positions"]) == (len(jobs(own(r))), len(rows))
        # Each row shows its years to the third place.
        and abs(v["position_years"] - sum(row["years"] for row in rows)) <= 0.0006 * len(rows)
        and (v["requests"] > 0) is (shown > 0)
    )


def importance(v: Values, r: Recommendation) -> bool:
    """The drive is in use, has that criticality, and one of its positions stands in the rows."""
    told = r.evidence["importance"]
    drive = Drive.objects.get(tag=v["drive"])
    ended = drive.in_use_until is not None and drive.in_use_until < r.run.as_of.date()
    rows = {row["drive"] for row in told["positions"]}
    return not ended and rows == {v["drive"]} and (drive.criticality or None) == v["criticality"]


def way(begin: str, end: str) -> int:
    return TransferTime.objects.get(from_storeroom__code=begin, to_storeroom__code=end).minutes


def near(r: Recommendation, code: str) -> Values:
    (found,) = (one for one in r.evidence["keeps_for"] if one["storeroom"] == code)
    return found


def links_per_job(r: Recommendation) -> int:
    return (r.evidence["chain"] or {}).get("links_per_job", 1)


def requesting(v: Values, r: Recommendation) -> bool:
    """One of its requests comes from that drive."""
    tags = {row["position"] for row in r.evidence["events"]} | {
        row["position"]
        for other in Recommendation.objects.current().filter(item__in=r.evidence["pool"]["member_ids"])
        for row in other.evidence["events"]
    }
    return importance(v, r) and v["drive"] in set(
        Position.objects.filter(tag__in=tags - {None}).values_list("drive__tag", flat=True)
    )


def alone(v: Values, r: Recommendation) -> bool:
    return importance(v, r) and r.importance == (v["criticality"] or "unknown")


def lead_orders(item: Item, room: Storeroom | None, r: Recommendation) -> int:
    rows = SupplyOrder.objects.received_regularly(r.run.as_of).filter(COMPLETE, item=item)
    return (rows if room is None else rows.filter(storeroom=room)).count()


def notice(v: Values, r: Recommendation) -> bool:
    """Positions and days as the inspections list them."""
    rows = {row["position"]: row for row in r.evidence["inspections"]}
    row = rows.get(v["position"])
    return row is not None and (row["order_by"], row["early_chance"]) == (v["order_by"], v["chance"])


def wear_notice(v: Values, r: Recommendation) -> bool:
    days = [row["notice_days"] for row in r.evidence["inspections"] if row["notice_days"]]
    return v["notice_days"] in days and 0 < v["wear_share"] <= 1


def cover(v: Values, r: Recommendation) -> bool:
    return any(
        (row["item"], row["positions"], row["pieces"]) == (v["item"], v["positions"], v["pieces"])
        and close(row["averts"], v["averted_pieces"])
        for row in r.evidence["cover"]
    )


def service(v: Values, r: Recommendation) -> bool:
    figures = r.evidence["figures"]
    short = figures["expected_stockouts_per_year"] / figures["pieces_per_job"]
    return close(v["fill_rate"], r.fill_rate or 0) and close(v["shortages_per_year"], short)


def today(v: Values, r: Recommendation) -> bool:
    short = r.today["expected_stockouts_per_year"] / r.today["pieces_per_job"]
    return close(v["fill_rate"], r.today["fill_rate"]) and close(v["shortages_per_year"], short)


def levels_today(v: Values, r: Recommendation) -> bool:
    levels = v["levels"]["values"]
    return {name: r.today[name] for name in levels} == levels


def prior(v: Values, r: Recommendation) -> bool:
    told = r.evidence.get("prior")
    if told is None:
        return r.model == "weibull_renewal"
    return (
        told["family"] == v["family"]
        and told["pools"] == v["pools"]
        and (
            "events" not in v
            or (close(told["shape"], v["events"]) and close(told["exposure_years"], v["years"]))
        )
    )


def half_event(v: Values, r: Recommendation) -> bool:
    told = r.evidence.get("prior")
    return told is None or (told["family"] is None and told["shape"] == 0.5)


def accelerating(v: Values, r: Recommendation) -> bool:
    begin = datetime.fromisoformat(r.evidence["pool"]["record_from"])
    rows = [row for row in own(r) if row["position"] == v["position"]]
    return v["requests"] == sum(datetime.fromisoformat(row["at"]) > begin for row in rows)


def changes(v: Values, r: Recommendation) -> bool:
    before, after = float(r.today["tied_up"]), float(r.evidence["figures"]["tied_up"])
    return close(float(v["amount"]), abs(after - before))


def chain_in_jobs(v: Values, r: Recommendation) -> bool:
    """The lengths of the jobs in the rows; nine in ten need no more than the length that the levels are multiples of."""
    found: Counter[Any] = Counter()
    for row in r.evidence["events"]:
        found[job_of(row), row["position"]] += row["quantity"]
    lengths, links = sorted(found.values()), v["links_per_job"]
    enough = sum(length <= links for length in lengths)
    return (
        (v["jobs"], v["shortest_links"], v["longest_links"]) == (len(lengths), lengths[0], lengths[-1])
        and links in lengths
        and enough >= v["job_share"] * len(lengths) > sum(length < links for length in lengths)
        and max(r.reorder_point, 0) % links == r.order_up_to % links == 0
    )


def break_even(v: Values, r: Recommendation) -> bool:
    """What a missing piece costs follows from the rate; from it the price up to which a spare pays."""
    away = v["days_away"] / 365
    holding = 0.2 * float(r.item.unit_cost or 0) * links_per_job(r)
    missing = holding / v["rate_from"] + holding * away
    share_away = v["rate_per_year"] * away / (1 + v["rate_per_year"] * away)
    price = v["rate_per_year"] * missing * (1 - share_away) / 0.2 / links_per_job(r)
    return (
        close(v["days_away"], r.lead_time_days or 0)
        and close(v["share_away"], share_away)
        and abs(float(v["price_up_to"]) - price) < 0.006 + price * NEAR
        and v.get("positions", 0) == len(pool_tags(r))
        and v["rate_per_year"] < 1
    )


def waits_for_order(v: Values, r: Recommendation) -> bool:
    missing = [one for one in r.explanation if one["code"] == "costs_not_compared"]
    codes = [one["code"] for one in missing[0]["values"]["missing"]]
    return close(v["days"], r.lead_time_days or 0) and codes == ["enter_hours_to_expedite"]


def lives_of(r: Recommendation, items: list[str]) -> int:
    return sum(life["item"] in items for life in r.evidence["lives"])


CHECKS: dict[str, Check] = {
    "chain_counted_in_jobs": chain_in_jobs,
    "no_demand_on_record": lambda v, r: (
        not r.evidence["events"] and not pool_tags(r) and close(v["record_years"], record_years(r))
    ),
    "only_planned_demand": lambda v, r: bool(r.evidence["events"]) and not unplanned(r) and not pool_tags(r),
    "monthly_demand_several_pieces": lambda v, r: (
        (v["requests"], v["months"]) == (len(unplanned(r)), months(r))
        and max(pieces_by_job(r).values()) > max(len(pool_tags(r)), 1)
    ),
    "monthly_demand_without_position": lambda v, r: (
        (v["requests"], v["months"]) == (len(unplanned(r)), months(r)) and 2 * len(own(r)) < len(unplanned(r))
    ),
    "requests_of_positions": requests_of_positions,
    "requests_besides_positions": lambda v, r: v["requests"] == len(others(r) - jobs(own(r))) > 0,
    "requests_for_positions": lambda v, r: (
        not pool_tags(r)
        and v["requests"] == len(jobs(unplanned(r)))
        and v["positions"] == len({row["position"] for row in unplanned(r)} - {None}) > 0
        and close(v["record_years"], record_years(r))
    ),
    "requests_without_position": lambda v, r: (
        not pool_tags(r)
        and v["requests"] == len(jobs(unplanned(r)))
        and not {row["position"] for row in unplanned(r)} - {None}
    ),
    "pieces_per_job": lambda v, r: (
        (v["least"], v["most"]) == (min(pieces_by_job(r).values()), max(pieces_by_job(r).values()))
    ),
    "no_mechanism_recorded": lambda v, r: (
        not any(
            life["mechanism"] not in ("", "unknown") and life["ended_by"] in ("failure", "limit_reached")
            for life in r.evidence["lives"]
        )
    ),
    "wear_shown": lambda v, r: (
        v["failures"] == worn_out(r)
        and v["suspensions"] == sum((life["hours"] or 0) > 0 for life in r.evidence["lives"]) - worn_out(r)
        and r.model == "weibull_renewal"
    ),
    "too_few_worn_out": lambda v, r: v["failures"] == worn_out(r) < 5,
    "no_age_effect_shown": lambda v, r: v["shape"] == r.evidence["fit"]["shape"],
    "requests_accelerate": accelerating,
    "estimates_until": lambda v, r: (
        (date.fromisoformat(v["last_day"]) + timedelta(days=1)).isoformat()
        == r.evidence["pool"]["estimates_until"][:10]
        <= r.evidence["pool"]["record_until"]
    ),
    "record_complete_from": lambda v, r: (
        v["begins_on"] == r.evidence["pool"]["record_from"][:10]
        and v["earlier_requests"] == len(jobs(r.evidence["earlier_events"]))
    ),
    "record_density_falls": lambda v, r: v["earlier_per_year"] > v["later_per_year"],
    "record_density_rises": lambda v, r: v["earlier_per_year"] < v["later_per_year"],
    "importance_without_position": lambda v, r: (
        r.importance == "unknown" and not {row["position"] for row in r.evidence["events"]} - {None}
    ),
    "importance_without_drive_in_use": lambda v, r: r.importance == "unknown" and not pool_tags(r),
    "importance_of_requesting_drive": requesting,
    "importance_of_only_candidate": alone,
    "importance_lowered_by_substitutes": lambda v, r: importance(v, r) and r.importance == "desirable",
    "prior_from_family": prior,
    "prior_from_common_rate": prior,
    "prior_half_event_at_mean_rate": half_event,
    "prior_half_event_alone": half_event,
    "prior_half_event_in_years_of_others": half_event,
    "lead_time_without_spread": lambda v, r: v["mean_days"] == r.lead_time_days and not r.lead_time_sd_days,
    "lead_time_with_spread": lambda v, r: (
        (v["mean_days"], v["sd_days"]) == (r.lead_time_days, r.lead_time_sd_days)
    ),
    "lead_time_from_orders_here": lambda v, r: v["orders"] == lead_orders(r.item, r.storeroom, r),
    "lead_time_from_orders_everywhere": lambda v, r: (
        (v["orders"], v["orders_here"]) == (lead_orders(r.item, None, r), lead_orders(r.item, r.storeroom, r))
    ),
    "lead_time_entered": lambda v, r: (
        v["orders"] == lead_orders(r.item, None, r) and v["days"] == r.item.lead_time_days
    ),
    "lead_time_borrowed": lambda v, r: r.item.lead_time_days is None and lead_orders(r.item, None, r) < 3,
    "wear_notice_too_short": wear_notice,
    "wear_notice_in_time": wear_notice,
    "order_for_position": notice,
    "same_part_kept_as": lambda v, r: (
        Item.objects.get(pk=r.evidence["kept_as_id"]).stock_number == v["stock_number"]
    ),
    "no_unplanned_demand": lambda v, r: not unplanned(r) and not pool_tags(r),
    "service_target": lambda v, r: (v["target"], v["importance"]) == (r.target_value, r.importance),
    "service_target_default": lambda v, r: (v["target"], v["importance"]) == (r.target_value, r.importance),
    "levels_recommended": lambda v, r: (
        (v["reorder_point"], v["order_up_to"]) == (r.reorder_point, r.order_up_to)
    ),
    "expected_service": service,
    "bought_when_needed": service,
    "expected_cost": lambda v, r: v["tied_up"] == r.evidence["figures"]["tied_up"],
    "planned_in_addition": lambda v, r: close(
        v["planned_per_year"],
        sum(row["quantity"] for row in r.evidence["events"] if row["is_planned"]) / record_years(r),
    ),
    "same_levels_today": lambda v, r: r.today["order_up_to"] == r.order_up_to,
    "other_levels_today": levels_today,
    "service_today": today,
    "bought_when_needed_today": today,
    "change_ties_up": changes,
    "change_frees": changes,
    "holds_until_review": lambda v, r: (
        v["review_days"] == r.review_after_days and v["pieces_then"] >= v["pieces_now"] * (1 - NEAR)
    ),
    "expected_service_in_the_long_run": lambda v, r: v["fill_rate"] <= (r.fill_rate or 0) + NEAR,
    "number_outlasted": lambda v, r: (
        0 < v["lives"] <= lives_of(r, [v["item"]]) and 0 < v["against_lives"] <= lives_of(r, v["against"])
    ),
    "spread_few_and_large": lambda v, r: v["periods_without"] == r.evidence["series"].count(0),
    "spread_negative_binomial": lambda v, r: v["periods_without"] == r.evidence["series"].count(0),
    "substitute_available": cover,
    "substitute_after_work": cover,
}


CHECKS |= {
    "spare_pays_from_positions": break_even,
    "spare_pays_from_rate": break_even,
    "without_spare_waits_for_order": waits_for_order,
    "kept_in_storeroom": lambda v, r: (
        r.evidence["kept_in"]["storeroom"] == v["storeroom"]
        and v["minutes"] == way(v["storeroom"], r.storeroom.code)
    ),
    "kept_for_storeroom": lambda v, r: (
        v["minutes"] == way(r.storeroom.code, v["storeroom"])
        and 0 <= float(v["fetching_cost"]) <= float(v["holding_cost"])
        and abs(float(v["holding_cost"]) - float(r.item.unit_cost or 0) * links_per_job(r) * 0.2) < 0.006
    ),
    "kept_for_storeroom_without_demand": lambda v, r: (
        v["minutes"] == way(r.storeroom.code, v["storeroom"])
        and near(r, v["storeroom"])["stops_per_year"] == 0
    ),
}


@pytest.mark.sqlite
def test_every_reason_of_the_demo_plant_agrees_with_its_rows() -> None:
    advices = list(Recommendation.objects.current().select_related("item", "storeroom", "run"))
    assert len(advices) > 300
    wrong, seen = defaultdict(list), Counter[str]()
    for advice in advices:
        for reason in advice.explanation:
            code = reason["code"]
            seen[code] += 1
            check = CHECKS.get(code)
            if check is None and code in WITHOUT_ROWS:
                continue
            if check is None or not check(reason["values"], advice):
                wrong[code].append(f"{advice.item.stock_number} {advice.storeroom.code}: {reason['values']}")
    told = "\n".join(
        f"{code}: {len(rows)} of {seen[code]}, {rows[:2]}" for code, rows in sorted(wrong.items())
    )
    assert not wrong, told
    assert len(seen) > 25
