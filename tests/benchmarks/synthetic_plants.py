"""Plants, drives, positions, installations and requests of a synthetic group."""

from collections.abc import Iterator
from datetime import date
from typing import Any

import numpy as np
from django.db import connection

from drives.models import (
    Area,
    Drive,
    Equipment,
    Installation,
    NeededPart,
    Plant,
    Position,
    Request,
    WorkOrder,
)
from inventory.models import Item, StockLevel, StockPolicy, Storeroom
from tests.benchmarks.bulk_rows import moments, write_rows
from tests.benchmarks.synthetic_catalogue import CATALOGUE, QUESTION_ITEMS, Catalogue
from tests.benchmarks.synthetic_group import YEARS, Size

AREAS_OF_A_PLANT = 10
QUESTION_REQUESTS, QUESTION_REMOVALS = 20, 5
DRIVES_TO_A_JOB = 10
POLICIES_OF_A_STOREROOM = 400
PIECES_OF_QUESTION = 100_000
"""More than there are of any item, so that its job looks for substitutes."""
DAYS = 365.25 * YEARS


def write_policies() -> str:
    """As many in each storeroom of any group, every second one at its reorder point."""
    chosen: dict[tuple[int, int], int] = {}
    for room in Storeroom.objects.order_by("pk"):
        rows = StockLevel.objects.available().filter(storeroom=room).order_by("item_id", "pk")
        columns = rows.values_list("item_id", "storeroom_id", "on_hand")
        chosen |= {(item, room): pieces for item, room, pieces in columns[:POLICIES_OF_A_STOREROOM]}
    point = [max(pieces - number % 2, 0) for number, pieces in enumerate(chosen.values())]
    columns = {
        "item_id": [item for item, _ in chosen],
        "storeroom_id": [room for _, room in chosen],
        "reorder_point": point,
        "order_up_to": [one + 2 for one in point],
    }
    count = write_rows(StockPolicy, columns)
    with connection.cursor() as cursor:
        cursor.execute(f"ANALYZE {connection.ops.quote_name(StockPolicy._meta.db_table)}")
    return f"{count:,} stock policies"


def write_plants(size: Size, rng: np.random.Generator, catalogue: Catalogue) -> Iterator[str]:
    plants = range(1, size.plants + 1)
    rooms = [1 + (plant - 1) * size.storerooms // size.plants for plant in plants]
    names = {"code": [f"P{p:02d}" for p in plants], "name": [f"Malting plant {p}" for p in plants]}
    write_rows(Plant, {**names, "timezone": "Europe/Vienna", "storeroom_id": rooms})
    areas = range(1, AREAS_OF_A_PLANT + 1)
    codes = {
        "code": [f"A{a}" for _ in plants for a in areas],
        "name": [f"Area {a}" for _ in plants for a in areas],
    }
    write_rows(Area, {"plant_id": [p for p in plants for _ in areas], **codes})
    drives = (size.positions + 1) // 2
    plant = rng.integers(0, size.plants, drives)
    plant[0] = 0
    item = _fitted(drives, rng, catalogue)
    yield from _write_drives(drives, plant, item, rng, catalogue)
    yield _write_jobs(item, catalogue)
    position_item = np.repeat(item, 2)
    yield from _write_history(size, rng, position_item, np.array(rooms)[np.repeat(plant, 2)])


def _fitted(drives: int, rng: np.random.Generator, catalogue: Catalogue) -> np.ndarray:
    """The item at the driver of each drive; that of the first drive is the first item of the question."""
    sprockets = np.flatnonzero(catalogue.kind == "sprocket")
    sprockets = sprockets[sprockets >= QUESTION_ITEMS]
    item = rng.choice(sprockets, drives) + 1
    item[0] = 1
    return item


def _write_drives(
    drives: int, plant: np.ndarray, item: np.ndarray, rng: np.random.Generator, catalogue: Catalogue
) -> Iterator[str]:
    row = item - 1
    tags = ["QUESTION" if drive == 0 else f"D{drive:06d}" for drive in range(drives)]
    area = plant * AREAS_OF_A_PLANT + rng.integers(1, AREAS_OF_A_PLANT + 1, drives)
    write_rows(
        Equipment,
        {"tag": [f"E-{tag}" for tag in tags], "area_id": area, "name": [f"Conveyor {t}" for t in tags]},
    )
    chain = catalogue.chain[row]
    columns: dict[str, Any] = {
        "tag": tags,
        "name": [f"Drive {tag}" for tag in tags],
        "equipment_id": range(1, drives + 1),
        "chain_designation": [CATALOGUE[c].designation for c in chain.tolist()],
        "pitch_mm": [CATALOGUE[c].pitch_mm for c in chain.tolist()],
        "roller_diameter_mm": [CATALOGUE[c].roller_diameter_mm for c in chain.tolist()],
        "inner_width_mm": [CATALOGUE[c].inner_width_mm for c in chain.tolist()],
        "transverse_pitch_mm": [CATALOGUE[c].transverse_pitch_mm for c in chain.tolist()],
        "strands": catalogue.strands[row],
        "links": 110,
        "centre_distance_mm": [round(40 * CATALOGUE[c].pitch_mm, 1) for c in chain.tolist()],
        "power_kw": 2.2,
        "driver_speed_rpm": 60,
        "ratio_tolerance_percent": rng.choice((0, 2, 5), drives),
        "hours_per_year": 6000,
        "criticality": rng.choice(("vital", "essential", "desirable"), drives),
        "downtime_cost_per_hour": np.round(np.exp(rng.normal(6, 0.8, drives)), 2),
        "environment": "[]",
    }
    columns["ratio_tolerance_percent"][0] = 0
    yield f"{write_rows(Drive, columns):,} drives"
    both = np.repeat(row, 2)
    ends = range(2 * drives)
    positions = {
        "tag": [f"{tags[n // 2]}-{n % 2 + 1}" for n in ends],
        "name": ["driver" if n % 2 == 0 else "driven" for n in ends],
        "drive_id": [n // 2 + 1 for n in ends],
        "role": ["driver" if n % 2 == 0 else "driven" for n in ends],
        "teeth": catalogue.teeth[both],
        "shaft_kind": "keyed",
        "shaft_diameter_mm": catalogue.bore_mm[both],
        "key_standard": "ISO 773",
        "requirement_basis": "stated",
    }
    yield f"{write_rows(Position, positions):,} positions"


def _write_jobs(item: np.ndarray, catalogue: Catalogue) -> str:
    """An open job at one drive in ten, for its sprocket; that of the question also lacks its sprocket and a bush."""
    drive = np.arange(0, len(item), DRIVES_TO_A_JOB)
    jobs = {
        "source": "orders",
        "external_id": ["QUESTION", *(f"JOB-{one}" for one in drive[1:])],
        "source_updated_at": moments(np.full(len(drive), DAYS)),
        "needed_by": date.today(),
        "position_id": drive * 2 + 1,
        "parts_needed": "[]",
        "parts_used": "[]",
        "attributes": "{}",
        "unread_codes": "{}",
        "was_ready": None,
    }
    count = write_rows(WorkOrder, jobs)
    bush = int(np.flatnonzero(catalogue.kind == "bush")[0]) + 1
    needed = [*item[drive].tolist(), bush]
    numbers = Item.objects.in_bulk(set(needed))
    write_rows(
        NeededPart,
        {
            "work_order_id": [*range(1, count + 1), 1],
            "stock_number": [numbers[one].stock_number for one in needed],
            "quantity": [PIECES_OF_QUESTION, *[1] * (count - 1), PIECES_OF_QUESTION],
        },
    )
    return f"{count:,} open jobs"


def _write_history(size: Size, rng: np.random.Generator, item: np.ndarray, room: np.ndarray) -> Iterator[str]:
    count = len(item)
    removals = max(size.events // 2, QUESTION_REMOVALS)
    place = rng.integers(1, count, removals)
    place[:QUESTION_REMOVALS] = 0
    removed = rng.uniform(200, DAYS - 40, removals)
    fitted_now = {
        "position_id": np.arange(1, count + 1),
        "item_id": item,
        "installed": np.full(count, DAYS - 30),
    }
    installed = np.concatenate((fitted_now["installed"], removed - rng.uniform(20, 190, removals)))
    is_over = np.arange(count + removals) >= count
    ended = moments(np.concatenate((np.zeros(count), removed)))
    columns: dict[str, Any] = {
        "position_id": np.concatenate((fitted_now["position_id"], place + 1)),
        "item_id": np.concatenate((item, item[place])),
        "installed_at": moments(installed),
        "removed_at": [
            at if over else None for at, over in zip(ended.tolist(), is_over.tolist(), strict=True)
        ],
        "ended_by": np.where(is_over, np.where(rng.random(len(is_over)) < 0.7, "failure", "preventive"), ""),
        "mechanism": np.where(is_over, "wear", ""),
        "running_hours": [
            float(h) if over else None
            for h, over in zip(rng.uniform(500, 9000, len(is_over)), is_over, strict=True)
        ],
        "age_basis": np.where(is_over, "meter", ""),
        "differences": "[]",
    }
    yield f"{write_rows(Installation, columns):,} installations"
    requests = max(size.events // 2, QUESTION_REQUESTS)
    place = rng.integers(2, count, requests)
    place[:QUESTION_REQUESTS] = 0
    columns = {
        "at": moments(rng.uniform(0, DAYS, requests)),
        "item_id": item[place],
        "position_id": place + 1,
        "storeroom_id": room[place],
        "quantity": 1,
        "result": np.where(rng.random(requests) < 0.85, "filled", "not_filled"),
        "work_order": [f"WO-{number}" for number in range(requests)],
    }
    yield f"{write_rows(Request, columns):,} requests"
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
