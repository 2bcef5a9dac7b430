"""The demo plant: what its files promise to everything that is shown on them."""

import csv
import json
from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest

from drives.chain.length import centre_exact_pitches
from drives.chain.rating import rate
from fixtures import generate
from fixtures.demo_plant.catalogue import IDENTITY
from fixtures.demo_plant.gaps import DRIVE_COLUMNS, POSITION_COLUMNS, SPROCKET_COLUMNS
from fixtures.demo_plant.tables import CHAINS, SERVICE_FACTORS
from inventory.standards.chains import find_chain

FOLDER = Path(generate.FOLDER)
Rows = list[dict[str, str]]
STORY_NAMES = {
    "drop_in_here",
    "only_in_the_other_plant",
    "pilot_bore_and_closed_shop",
    "trap_08b_beside_40",
    "bush_change_settles_it",
    "bush_settles_three",
    "re_bore",
    "pair_keeps_the_ratio",
    "sprocket_under_worn_chain",
    "nothing_can_serve",
    "idler_takes_any_count",
    "lifting_hoist",
    "never_failed_and_vital",
    "pool_one_more_piece",
    "duplicates_worth_merging",
    "unknown_part_on_the_counter",
    "delivery_is_another_thing",
    "substitute_lasted_a_third",
    "eats_sprockets_after_a_move",
    "stainless_where_carbon_is_offered",
    "heavy_duplex_trap",
    "chain_outside_any_standard",
    "few_for_many",
    "spare_of_a_machine_that_has_gone",
    "donor_as_last_resort",
}


def read(name: str) -> Rows:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def messages() -> list[dict[str, str]]:
    return [json.loads(line) for line in (FOLDER / "work-orders.ndjson").read_text("utf-8").splitlines()]


def stories() -> Rows:
    with (FOLDER.parent / "stories.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def keyed(rows: Iterable[dict[str, str]], *columns: str) -> dict[tuple[str, ...], dict[str, str]]:
    return {tuple(row[column] for column in columns): row for row in rows}


def shelves() -> dict[tuple[str, str, str], int]:
    """What the movements leave where; refuses to go below zero on the way."""
    on_hand: dict[tuple[str, str, str], int] = defaultdict(int)
    for row in read("movements.csv"):
        key = (row["item"], row["storeroom"], row["condition"])
        if row["kind"] == "count":
            on_hand[key] = int(row["counted"])
        else:
            on_hand[key] += int(row["quantity"]) * (1 if row["kind"] == "receipt" else -1)
        if row["to_storeroom"]:
            on_hand[row["item"], row["to_storeroom"], row["condition"]] += int(row["quantity"])
        assert on_hand[key] >= 0, row
    return on_hand


def story(name: str) -> dict[str, str]:
    return next(row for row in stories() if row["story"] == name)


def pieces(number: str, storeroom: str, condition: str = "new") -> int:
    return shelves()[number, storeroom, condition]


def test_it_is_generated_to_the_same_bytes(tmp_path: Path) -> None:
    generate.main([str(tmp_path / "demo")])
    written = {file.name: file.read_bytes() for file in (tmp_path / "demo").iterdir()}
    kept = {file.name: file.read_bytes() for file in FOLDER.iterdir()}
    assert written == kept
    assert (tmp_path / "stories.csv").read_bytes() == (FOLDER.parent / "stories.csv").read_bytes()


def test_it_is_large_enough_to_show_everything_and_small_enough_to_load() -> None:
    assert len(read("drives.csv")) >= 90
    assert len(read("positions.csv")) >= 220
    assert len(read("items.csv")) >= 600
    assert len(read("storerooms.csv")) == 3
    assert sum(file.stat().st_size for file in FOLDER.iterdir()) < 3_000_000


def test_the_history_spans_ten_years_in_order() -> None:
    moments = [datetime.fromisoformat(row["occurred_at"]) for row in read("movements.csv")]
    assert moments == sorted(moments)
    assert (moments[0].date().isoformat(), moments[-1].date().isoformat() <= "2026-11-20") == (
        "2016-11-21",
        True,
    )


@pytest.mark.parametrize(
    ("name", "columns"),
    [
        ("drives.csv", ("tag",)),
        ("positions.csv", ("tag",)),
        ("equipment.csv", ("tag",)),
        ("items.csv", ("stock_number",)),
        ("bins.csv", ("storeroom", "code")),
        ("movements.csv", ("reference",)),
        ("installations.csv", ("position", "installed_at")),
        ("inspections.csv", ("position", "at")),
        ("requests.csv", ("reference",)),
        ("supply-orders.csv", ("source", "external_id")),
        ("stock-policies.csv", ("item", "storeroom")),
        ("service-targets.csv", ("importance",)),
        ("transfer-times.csv", ("from_storeroom", "to_storeroom")),
    ],
)
def test_no_key_is_there_twice(name: str, columns: tuple[str, ...]) -> None:
    rows = read(name)
    assert len(keyed(rows, *columns)) == len(rows)


@pytest.mark.parametrize(
    ("name", "column", "target", "key"),
    [
        ("areas.csv", "plant", "plants.csv", "code"),
        ("equipment.csv", "plant", "plants.csv", "code"),
        ("drives.csv", "equipment", "equipment.csv", "tag"),
        ("positions.csv", "drive", "drives.csv", "tag"),
        ("items.csv", "replaced_by", "items.csv", "stock_number"),
        ("movements.csv", "item", "items.csv", "stock_number"),
        ("movements.csv", "storeroom", "storerooms.csv", "code"),
        ("movements.csv", "to_storeroom", "storerooms.csv", "code"),
        ("movements.csv", "position", "positions.csv", "tag"),
        ("installations.csv", "item", "items.csv", "stock_number"),
        ("installations.csv", "position", "positions.csv", "tag"),
        ("inspections.csv", "position", "positions.csv", "tag"),
        ("requests.csv", "item", "items.csv", "stock_number"),
        ("requests.csv", "issued_item", "items.csv", "stock_number"),
        ("requests.csv", "position", "positions.csv", "tag"),
        ("supply-orders.csv", "item", "items.csv", "stock_number"),
        ("supply-orders.csv", "storeroom", "storerooms.csv", "code"),
        ("stock-policies.csv", "item", "items.csv", "stock_number"),
        ("stock-policies.csv", "storeroom", "storerooms.csv", "code"),
    ],
)
def test_what_is_named_is_there(name: str, column: str, target: str, key: str) -> None:
    known = {row[key] for row in read(target)}
    assert {row[column] for row in read(name) if row[column]} <= known


def test_bins_belong_to_their_storeroom() -> None:
    known = keyed(read("bins.csv"), "storeroom", "code")
    used = {(row["storeroom"], row["bin"]) for row in read("movements.csv") if row["bin"]}
    assert used <= set(known)


def test_links_are_even_and_centres_match_them() -> None:
    teeth = {row["tag"]: int(row["teeth"]) for row in read("positions.csv")}
    for row in read("drives.csv"):
        if not row["links"]:
            continue
        assert int(row["links"]) % 2 == 0
        if not row["centre_distance_mm"]:
            continue
        pitch = float(row["pitch_mm"]) if row["pitch_mm"] else CHAINS[row["chain"]].pitch_mm
        z1, z2 = teeth[f"{row['tag']}-DRV"], teeth[f"{row['tag']}-DVN"]
        taut = centre_exact_pitches(int(row["links"]), z1=z1, z2=z2) * pitch
        assert float(row["centre_distance_mm"]) == pytest.approx(taut, rel=0.01)


def utilisations() -> list[float]:
    teeth = {row["tag"]: int(row["teeth"]) for row in read("positions.csv")}
    found = []
    for row in read("drives.csv"):
        chain = CHAINS.get(row["chain"])
        if chain is None or chain.double_pitch or not (row["power_kw"] and row["driver_speed_rpm"]):
            continue
        small = min(teeth[f"{row['tag']}-DRV"], teeth[f"{row['tag']}-DVN"])
        speed = float(row["driver_speed_rpm"])
        rating = rate(find_chain(row["chain"]), teeth=small, speed_rpm=speed, strands=int(row["strands"]))
        factor = SERVICE_FACTORS.get(row["shock"], 1.3)
        found.append(float(row["power_kw"]) * factor / rating.rated_power_kw)
    return found


def test_most_drives_are_loaded_as_drives_are_and_some_too_far() -> None:
    shares = utilisations()
    ordinary = [share for share in shares if 0.3 <= share <= 0.9]
    assert len(ordinary) / len(shares) > 0.85
    assert 2 <= len([share for share in shares if share > 1]) <= 10


def test_ratios_and_centres_are_usual() -> None:
    teeth = {row["tag"]: int(row["teeth"]) for row in read("positions.csv")}
    for row in read("drives.csv"):
        ratio = teeth[f"{row['tag']}-DVN"] / teeth[f"{row['tag']}-DRV"]
        assert 0.9 <= ratio <= 5, row["tag"]


def missing_share(rows: Rows, columns: tuple[str, ...]) -> float:
    cells = [row[column] for row in rows for column in columns]
    return cells.count("") / len(cells)


def test_some_attributes_are_missing_as_in_life() -> None:
    sprockets = [row for row in read("items.csv") if row["kind"] == "sprocket"]
    seats = [row for row in read("positions.csv") if row["shaft_kind"] == "keyed"]
    assert 0.08 <= missing_share(read("drives.csv"), DRIVE_COLUMNS) <= 0.15
    assert 0.08 <= missing_share(seats, POSITION_COLUMNS) <= 0.15
    assert 0.08 <= missing_share(sprockets, SPROCKET_COLUMNS) <= 0.15


def test_an_eighth_to_a_sixth_of_the_items_are_duplicates() -> None:
    forgettable = {*SPROCKET_COLUMNS, "material", "hardened_teeth", "role_kind"}
    identity = [column for column in IDENTITY if column not in forgettable]
    items = read("items.csv")
    kinds = Counter(tuple(row[column] for column in identity) for row in items if row["kind"])
    known = [row for row in items if row["stock_number"].startswith(("S-", "LW-"))]
    assert 0.12 <= len(known) / len(items) <= 0.18
    for row in known:
        assert kinds[tuple(row[column] for column in identity)] > 1, row["stock_number"]


def test_descriptions_use_three_unit_systems_and_two_languages() -> None:
    words = " | ".join(row["description"] for row in read("items.csv"))
    assert all(text in words for text in ("1-7/16", "40MM", '5/8" X 3/8"', "KETTENRAD", "TAPERBUCHSE", "QD"))


def test_stock_never_goes_below_zero_and_is_kept_in_every_condition() -> None:
    conditions = {key[2] for key, quantity in shelves().items() if quantity}
    assert conditions == {"new", "used_serviceable", "on_hold"}


def test_chain_is_received_by_the_piece() -> None:
    chains = {row["stock_number"] for row in read("items.csv") if row["kind"] == "chain"}
    received = [row for row in read("movements.csv") if row["item"] in chains and row["kind"] == "receipt"]
    assert received
    assert all(row["piece_links"] == row["quantity"] for row in received)
    assert {row["unit"] for row in read("items.csv") if row["kind"] == "chain"} == {"link"}


def test_one_unit_at_a_time_sits_on_a_position() -> None:
    rows: dict[str, Rows] = defaultdict(list)
    for row in read("installations.csv"):
        rows[row["position"]].append(row)
    for units in rows.values():
        units.sort(key=lambda row: datetime.fromisoformat(row["installed_at"]))
        for before, after in pairwise(units):
            assert before["removed_at"]
            ended, began = before["removed_at"], after["installed_at"]
            assert datetime.fromisoformat(ended) <= datetime.fromisoformat(began)
    assert all(bool(row["removed_at"]) == bool(row["ended_by"]) for row in read("installations.csv"))


def test_units_end_in_every_way_that_the_plant_tells_apart() -> None:
    ends = {row["ended_by"] for row in read("installations.csv")}
    expected = {"failure", "limit_reached", "preventive", "opportunity", "modification", "decommissioned"}
    assert expected <= ends


def test_requests_are_mostly_met_and_sometimes_not() -> None:
    results = Counter(row["result"] for row in read("requests.csv"))
    assert set(results) == {"filled", "filled_by_substitute", "not_filled", "not_stocked"}
    assert 0.03 <= (results["not_filled"] + results["not_stocked"]) / results.total() <= 0.15


def test_orders_spread_in_lead_time_and_some_are_emergencies() -> None:
    orders = read("supply-orders.csv")
    assert {row["status"] for row in orders} == {"open", "received", "cancelled"}
    assert 0.03 <= len([row for row in orders if row["emergency"] == "true"]) / len(orders) <= 0.15


def test_policies_are_what_the_shelves_were_run_by() -> None:
    policies = keyed(read("stock-policies.csv"), "item", "storeroom")
    known = [
        (order, policies[order["item"], order["storeroom"]])
        for order in read("supply-orders.csv")
        if order["emergency"] == "false" and (order["item"], order["storeroom"]) in policies
    ]
    assert len(known) > 500
    assert [order for order, policy in known if policy["stocked"] == "false"] == []
    assert [o for o, policy in known if int(o["quantity"]) > int(policy["order_up_to"])] == []
    kept = [row for row in policies.values() if row["stocked"] == "true"]
    assert {int(row["order_up_to"]) - int(row["reorder_point"]) for row in kept} == {1}


def test_every_importance_has_its_promise() -> None:
    promised = {row["importance"]: float(row["value"]) for row in read("service-targets.csv")}
    assert promised == {"vital": 0.99, "essential": 0.95, "desirable": 0.9, "unknown": 0.95}


def test_the_feed_has_late_repeated_corrected_and_retracted_messages() -> None:
    feed: dict[str, list[dict[str, str]]] = defaultdict(list)
    for message in messages():
        feed[message["external_id"]].append(message)
    told = list(feed.values())
    assert any(a["updated_at"] > b["updated_at"] for rows in told for a, b in pairwise(rows))
    assert any(a == b for rows in told for a, b in pairwise(rows))
    assert any([row["status"] for row in rows].count("closed") == 2 for rows in told)
    assert any([row["status"] for row in rows][-2:] == ["closed", "cancelled"] for rows in told)
    assert {message["position"] for message in messages()} <= {row["tag"] for row in read("positions.csv")}


def test_every_story_names_records_that_are_there() -> None:
    places = {row["tag"] for name in ("positions.csv", "drives.csv") for row in read(name)}
    numbers = {row["stock_number"] for row in read("items.csv")}
    assert {row["story"] for row in stories()} == STORY_NAMES
    assert all(row["tag"] in places or not row["tag"] for row in stories())
    assert all(row["stock_number"] in numbers for row in stories())


def test_the_right_part_lies_only_in_the_other_plant() -> None:
    row = story("only_in_the_other_plant")
    assert pieces(row["stock_number"], "LW-MAIN") == 1
    assert pieces(row["stock_number"], "OM-MAIN") == pieces(row["stock_number"], "OM-KILN") == 0


def test_the_delivery_that_is_another_thing_is_checked_for_an_order_that_stays_open() -> None:
    number = story("delivery_is_another_thing")["stock_number"]
    (check,) = read("delivery-checks.csv")
    (bought,) = [row for row in read("supply-orders.csv") if row["external_id"] == check["external_id"]]
    assert pieces(number, "LW-MAIN") == 0
    assert (bought["item"], bought["status"], bought["quantity"]) == (number, "open", check["quantity"])


def test_the_chain_over_the_new_sprocket_is_beyond_its_limit() -> None:
    tag = story("sprocket_under_worn_chain")["tag"]
    readings = [row for row in read("inspections.csv") if row["position"] == tag]
    assert float(max(readings, key=lambda row: row["at"])["elongation_percent"]) > 3


def test_the_substitute_lasted_about_a_third() -> None:
    row = story("substitute_lasted_a_third")
    lives: dict[bool, list[float]] = defaultdict(list)
    for unit in read("installations.csv"):
        if unit["position"] == row["tag"] and unit["running_hours"]:
            lives[unit["item"] == row["stock_number"]].append(float(unit["running_hours"]))
    mean = {of: sum(hours) / len(hours) for of, hours in lives.items()}
    assert mean[True] / mean[False] == pytest.approx(1 / 3, abs=0.03)


def test_nothing_on_any_shelf_can_serve_the_lost_place() -> None:
    number = story("nothing_can_serve")["stock_number"]
    chain = [row for row in read("items.csv") if (row["chain"], row["strands"]) == ("120", "2")]
    on_hand = {key[0] for key, quantity in shelves().items() if quantity}
    sprockets = [row for row in chain if row["kind"] == "sprocket" and row["role_kind"] != "idler"]
    assert number not in on_hand
    assert not [
        row for row in sprockets if row["stock_number"] in on_hand and row["teeth"] in {"26", "27", "28"}
    ]


def test_the_vital_part_was_never_asked_for() -> None:
    row = story("never_failed_and_vital")
    assert not [ask for ask in read("requests.csv") if ask["item"] == row["stock_number"]]
    assert not [
        unit for unit in read("installations.csv") if unit["position"] == row["tag"] and unit["removed_at"]
    ]
    assert pieces(row["stock_number"], "OM-KILN") == 1


def test_a_new_chain_for_the_worn_one_lies_there() -> None:
    drive = next(
        row for row in read("drives.csv") if story("sprocket_under_worn_chain")["tag"].startswith(row["tag"])
    )
    chain = next(
        row["stock_number"]
        for row in read("items.csv")
        if row["kind"] == "chain" and (row["chain"], row["strands"]) == (drive["chain"], drive["strands"])
    )
    pieces_here: list[int] = []
    for row in read("movements.csv"):
        if row["item"] == chain and row["kind"] == "receipt":
            pieces_here.append(int(row["quantity"]))
        elif row["item"] == chain:
            shortest = min(links for links in pieces_here if links >= int(row["quantity"]))
            pieces_here[pieces_here.index(shortest)] -= int(row["quantity"])
    assert max(pieces_here) >= int(drive["links"])
