"""Requests that change nothing: records, verdicts, stocking mathematics, refusals, pages."""

from collections.abc import Iterator, Sequence
from itertools import pairwise, product
from typing import Any

from tests.proof.answer_bodies import (
    DEMANDS,
    DRIVE,
    DRIVES,
    LIVES,
    PART,
    PARTS,
    PERIODS,
    PLACE,
    PLACES,
    SUPPLIES,
    TARGETS,
)
from tests.proof.answer_recorder import Recorder

NIGHT = "2026-11-26T02:10:00Z"
SUNDAY = "2026-11-29T10:00:00Z"
RESOURCES = (
    *("areas", "bins", "changes", "code-words", "count-tasks", "drives", "equipment", "fit-questions"),
    *("inbound-messages", "inspections", "installations", "items", "kits", "machine-shops", "meter-readings"),
    *("movements", "opening-hours", "plants", "positions", "recommendations", "requests", "reservations"),
    *(
        "rules",
        "service-targets",
        "source-answers",
        "shop-times",
        "specifications",
        "stock",
        "stock-policies",
        "storerooms",
    ),
    *("supply-orders", "transfer-times", "webhooks", "work-orders"),
)
DETAILS = {
    "drives": "tag",
    "items": "stock_number",
    "positions": "tag",
    "specifications": "id",
    "installations": "id",
    "movements": "id",
    "stock": "id",
    "requests": "id",
}
LISTS = (
    ("movements", {"kind": "issue,scrap", "storeroom": "OM-MAIN", "limit": 50}),
    ("movements", {"kind": "transfer", "limit": 50}),
    ("movements", {"work_order": "WO-501260"}),
    ("movements", {"ordering": "occurred_at", "limit": 50}),
    ("stock", {"in_stock": "true", "storeroom": "OM-KILN"}),
    ("stock", {"as_of": "2024-06-30T12:00:00Z", "limit": 200}),
    ("stock", {"q": "1610", "ordering": "-on_hand"}),
    ("items", {"q": "08B 17"}),
    ("items", {"chain": "16B", "teeth": 17}),
    ("items", {"lifecycle": "run_down"}),
    ("items", {"bore_mm__gte": 40, "bore_mm__lte": 50}),
    ("items", {"ordering": "-unit_cost", "limit": 30}),
    ("specifications", {"chain": "08B", "teeth__lte": 20}),
    ("drives", {"lifting": "true"}),
    ("drives", {"criticality": "vital", "plant": "OM"}),
    ("positions", {"role": "idler"}),
    ("positions", {"fitted": "false"}),
    ("installations", {"mechanism": "wear", "limit": 50}),
    ("installations", {"fitted": "true", "plant": "LW", "limit": 50}),
    ("installations", {"temporary": "overdue"}),
    ("inspections", {"elongation_percent__gte": 2}),
    ("requests", {"result": "not_filled"}),
    ("requests", {"storeroom": "LW-MAIN", "ordering": "at", "limit": 50}),
    ("supply-orders", {"status": "open"}),
    ("supply-orders", {"emergency": "true", "limit": 50}),
    ("work-orders", {"status": "open", "kind": "preventive"}),
    ("recommendations", {"changed": "true", "state": "open"}),
    ("recommendations", {"is_answered": "false"}),
    ("recommendations", {"model": "weibull_renewal"}),
    ("recommendations", {"ordering": "-rate_per_year", "limit": 30}),
    ("count-tasks", {"storeroom": "OM-MAIN", "state": "open"}),
    ("chains", {"series": "B"}),
    ("chains", {"pitch_mm": 12.7}),
    ("chains", {"is_double_pitch": "true"}),
)
REFUSED = (
    "items/?colour=blue",
    "items/?limit=0",
    "items/?cursor=x",
    "items/?ordering=colour",
    "items/?teeth=many",
    "items/nothing/",
    "items/nothing/substitutes/",
    "positions/nothing/substitutes/",
    "positions/OM-GER-TN14-D1-DRV/substitutes/?storeroom=nowhere",
    "positions/OM-GER-TN14-D1-DRV/substitutes/?worst_grade=perfect&limit=0&at=soon",
    "drives/nothing/substitute-pairs/",
    "work-orders/plan/nothing/readiness/",
    "chains/09Q/",
    "chains/08B/tooth-form/",
    "chains/08B/tooth-form/?teeth=3&strands=11",
    "stocking/frontier/",
    "stocking/backtest/?months_to_learn=2&exposure_months=3",
    "exposure/?plant=nowhere",
    "reorder-list/?storeroom=nowhere",
    "events/?after=999999",
    "nowhere/",
)
ADMINISTERED = (
    *(
        "inventory",
        "inventory/item",
        "inventory/specification",
        "inventory/storeroom",
        "inventory/stockentry",
    ),
    *("inventory/stocklevel", "inventory/supplyorder", "inventory/recommendation", "drives", "drives/plant"),
    *("drives/drive", "drives/position", "drives/installation", "drives/workorder", "api/accesstoken"),
)


def save_reads(recorder: Recorder) -> None:
    positions = [one["tag"] for one in recorder.all_records("positions/")]
    items = [one["stock_number"] for one in sprockets(recorder)]
    save_records(recorder)
    save_substitutes(recorder, sample(positions, 2))
    save_item_substitutes(recorder, sample(items, 10))
    save_checks(recorder, sample(positions, 8), items)
    save_chains(recorder)
    save_formulas(recorder)
    save_descriptions(recorder)
    save_plans(recorder)
    save_refusals(recorder)
    save_pages(recorder, positions, items)


def sample(values: Sequence[Any], step: int, first: int = 0) -> Sequence[Any]:
    """Every so many of them; the same on every run."""
    return values[first::step]


def sprockets(recorder: Recorder) -> Iterator[Any]:
    for item in recorder.all_records("items/"):
        if item["specification"] and item["specification"]["kind"] == "sprocket":
            yield item


def save_records(recorder: Recorder) -> None:
    for resource in RESOURCES:
        recorder.get(f"list {resource}", f"{resource}/", {"limit": 100})
    for resource, key in DETAILS.items():
        records = recorder.all_records(f"{resource}/")
        for record in sample(records, max(1, len(records) // 4)):
            recorder.get(f"detail {resource} {record[key]}", f"{resource}/{record[key]}/")
    for resource, query in LISTS:
        recorder.get(f"list {resource} {query_text(query)}", f"{resource}/", query)
    recorder.get("stocking terms", "stocking/terms/")
    recorder.get("stocking runs", "stocking/runs/")
    recorder.get("accuracy of counts", "count-tasks/accuracy/")
    recorder.get("events", "events/", {"limit": 50})
    recorder.get("events of requests", "events/", {"limit": 50, "type": "stock.moved", "after": 3_000})
    recorder.get(
        "reconciliation",
        "work-orders/reconciliation/",
        {"source": "maintenance-planning", "from": "2026-10-01"},
    )


def query_text(query: dict[str, Any]) -> str:
    return " ".join(f"{name}={value}" for name, value in query.items())


def save_substitutes(recorder: Recorder, positions: Sequence[str]) -> None:
    variants: tuple[tuple[int, int, dict[str, Any]], ...] = (
        (1, 0, {}),
        (5, 0, {"ordering": "ready"}),
        (5, 1, {"in_stock": "true", "worst_grade": "needs_review"}),
        (10, 2, {"storeroom": "LW-MAIN", "ordering": "ready"}),
        (10, 3, {"storeroom": "OM-KILN", "at": NIGHT, "ordering": "ready"}),
        (10, 4, {"at": SUNDAY, "worst_grade": "with_work"}),
        (10, 5, {"in_stock": "false", "limit": 3}),
        (10, 6, {"limit": 500}),
    )
    for step, first, query in variants:
        for tag in sample(positions, step, first):
            name = f"substitutes {tag} {query_text(query)}".strip()
            recorder.get(name, f"positions/{tag}/substitutes/", {"at": recorder.now, **query})


def save_item_substitutes(recorder: Recorder, items: Sequence[str]) -> None:
    for number in items:
        recorder.get(f"item substitutes {number}", f"items/{number}/substitutes/", {"at": recorder.now})
    for number in sample(items, 4):
        query = {"at": NIGHT, "ordering": "ready", "limit": 40, "storeroom": "OM-MAIN"}
        recorder.get(f"item substitutes {number} at night", f"items/{number}/substitutes/", query)


def save_checks(recorder: Recorder, positions: Sequence[str], items: Sequence[str]) -> None:
    """Pairs of which some fit, as an item that was judged for a position stands among its substitutes."""
    for index, tag in enumerate(positions):
        judged = recorder.read(f"positions/{tag}/substitutes/?limit=500&at={recorder.now}")
        known = [row["item"]["stock_number"] for row in judged["results"]]
        for number in dict.fromkeys([*known[:1], *known[-1:], items[index * 37 % len(items)]]):
            check(recorder, {"position": tag}, {"item": number})
    for index, number in enumerate(sample(items, 25)):
        check(recorder, {"item": number}, {"item": items[index * 11 % len(items)]})
    for one, other in pairwise(positions):
        check(recorder, {"position": one}, {"position": other})
    for index, part in enumerate(PARTS):
        check(recorder, PLACE, PART | part, f"part {index}")
    for index, place in enumerate(PLACES):
        check(recorder, PLACE | place, PART, f"place {index}")
    check(recorder, {"item": "nothing"}, PART, "of nothing")


def check(recorder: Recorder, required: dict[str, Any], offered: dict[str, Any], name: str = "") -> None:
    name = name or f"{query_text(required)}, {query_text(offered)}"
    recorder.send(f"check {name}", "interchange/check/", {"required": required, "offered": offered})


def save_chains(recorder: Recorder) -> None:
    numbers = [one["designation"] for one in recorder.all_records("chains/")]
    for number in sample(numbers, 5):
        recorder.get(f"chain {number}", f"chains/{number}/")
    for index, number in enumerate(numbers):
        query = {"teeth": (9, 15, 19, 25, 38, 76, 114)[index % 7], "strands": 1 + index % 3}
        recorder.get(f"tooth form {number} {query_text(query)}", f"chains/{number}/tooth-form/", query)
    for chain, teeth in (("08B", 17), *product(("208A", "208B", "C2050"), (6, 11, 17, 35, 150))):
        query = {"teeth": teeth, "single_cut": "false"}
        recorder.get(f"tooth form {chain} {query_text(query)}", f"chains/{chain}/tooth-form/", query)


def save_formulas(recorder: Recorder) -> None:
    for index, drive in enumerate(DRIVES):
        recorder.send(f"drive {index}", "drives/calculate/", DRIVE | drive)
    for index, lives in enumerate(LIVES):
        recorder.send(f"fit {index}", "reliability/fit/", lives)
    for (at, demand), target, (number, supply) in product(enumerate(DEMANDS), TARGETS, enumerate(SUPPLIES)):
        name = f"stock for {at} {demand['model']}, {target['kind']}, supply {number}"
        recorder.send(name, "stocking/evaluate/", {"demand": demand, "target": target, **supply})
    wrong = {"demand": {"model": "poisson", "rate_per_year": -1}, "target": {"kind": "luck"}}
    recorder.send("stock for wrong numbers", "stocking/evaluate/", wrong)
    costs = [12.5 + row for row in range(len(PERIODS))]
    recorder.send("back-test of rows", "stocking/backtest/", {"periods": PERIODS})
    more = {"unit_costs": costs, "currency": "EUR", "exposure_months": 6, "targets": [0.8, 0.95]}
    recorder.send("back-test of rows with prices", "stocking/backtest/", {"periods": PERIODS, **more})
    recorder.send("back-test of wrong rows", "stocking/backtest/", {"periods": [[1, 2], [1]]})


def save_descriptions(recorder: Recorder) -> None:
    lines = ["SPKT D60B20 1-7/16 KW", "CHAIN WHEEL 1/2 X 5/16 25T", "KETTENRAD 08B-1 17 ZÄHNE", "CHAIN 60-1"]
    recorder.send("descriptions read", "descriptions/read/", {"lines": lines})


def save_plans(recorder: Recorder) -> None:
    for order in recorder.all_records("work-orders/"):
        path = f"work-orders/{order['source']}/{order['external_id']}/"
        recorder.get(f"readiness {order['external_id']}", f"{path}readiness/")
    for drive in sample(recorder.all_records("drives/"), 3):
        recorder.get(f"pairs {drive['tag']}", f"drives/{drive['tag']}/substitute-pairs/")
    for one in sample(recorder.all_records("recommendations/"), 20):
        name = f"recommendation {one['item']} {one['storeroom']}"
        recorder.get(name, f"recommendations/{one['id']}/")
    save_money(recorder, "")
    for query in ({"limit": 500}, {"storeroom": "LW-MAIN"}, {"plant": "OM", "limit": 5}):
        recorder.get(f"exposure {query_text(query)}", "exposure/", {"at": recorder.now, **query})
    for room in ("", "OM-MAIN", "LW-MAIN"):
        recorder.get(f"back-test {room}".strip(), "stocking/backtest/", {"storeroom": room} if room else {})
    query = {"months_to_learn": 36, "exposure_months": 6, "step_months": 6}
    recorder.get("back-test of six months", "stocking/backtest/", query)


def save_money(recorder: Recorder, when: str) -> None:
    for budget in (0, 5_000):
        recorder.get(f"frontier {budget} {when}".strip(), "stocking/frontier/", {"budget": budget})
    recorder.get(f"reorder list {when}".strip(), "reorder-list/", {"limit": 500})
    recorder.get(f"reorder list OM-MAIN {when}".strip(), "reorder-list/", {"storeroom": "OM-MAIN"})
    recorder.get(f"reorder list as a file {when}".strip(), "reorder-list/", accept="text/csv")


def save_refusals(recorder: Recorder) -> None:
    for path in REFUSED:
        recorder.get(f"refused {path}", path)


def save_pages(recorder: Recorder, positions: Sequence[str], items: Sequence[str]) -> None:
    addresses = ["/", "/?q=08B", "/?q=OM-KLN-KS01", "/hits/?q=sprocket", "/?q=nothing+at+all", "/login/"]
    addresses += [f"/positions/{tag}/" for tag in sample(positions, 20)]
    addresses += [f"/positions/{positions[0]}/?order=ready&shelf=1", f"/positions/{positions[0]}/?at=soon"]
    addresses += [f"/drives/{tag}/" for tag in dict.fromkeys(one[:-4] for one in sample(positions, 40))]
    addresses += [f"/items/{number}/" for number in sample(items, 40)]
    addresses += [f"/{room}/nothing/" for room in ("positions", "drives", "items")]
    for address in addresses:
        recorder.page(address)
    for name, address in (
        ("decisions", "/planning/"),
        ("decisions of a storeroom", "/planning/?storeroom=OM-MAIN"),
        ("back-test", "/planning/backtest/"),
        ("exposure", "/planning/exposure/"),
        ("budget", "/planning/budget/?budget=2000"),
        ("budget as a file", "/planning/budget.csv?budget=2000"),
        ("reorder list", "/planning/reorder/"),
    ):
        recorder.page(address, name)
    for one in sample(recorder.all_records("recommendations/"), 150):
        name = f"decision {one['item']} {one['storeroom']}"
        recorder.page(f"/planning/{one['id']}/", name)
        recorder.page(f"/planning/{one['id']}/events.csv", f"{name}, its demand")
    for model in ADMINISTERED:
        recorder.page(f"/admin/{model}/")
    for address in ("/healthz", "/readyz", "/api/v1/", "/api/v1/schema/", "/api/v1/docs/"):
        recorder.page(address)
