"""What the tests of the records share: each resource with a record, a body and a change to try it with."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from rest_framework.test import APIClient

from api.models import SourceAnswer
from inventory.stores import kits, ledger
from inventory.stores.counting.count_requests import request_count
from tests import factories as make

API = "/api/v1/"


@dataclass(frozen=True)
class Resource:
    """`make` writes one more record and gives its key; `body` is one that can be posted beside it."""

    name: str
    make: Callable[[int], Any]
    body: Callable[[], dict[str, Any]]
    change: dict[str, Any] = field(default_factory=dict)
    role: str = "manager"
    refused: str = "storeroom"
    needs_key: bool = False
    by_integration: bool = True
    queries: int = 2

    @property
    def path(self) -> str:
        return f"{API}{self.name}/"

    def address(self, key: Any) -> str:
        return f"{self.path}{key}/"


def post(client: APIClient, path: str, body: Any, key: str = "k-1") -> Any:
    return client.post(path, body, HTTP_IDEMPOTENCY_KEY=key)


def change(client: APIClient, path: str, body: Any, method: str = "patch") -> Any:
    """Read, then write with the tag that was read."""
    etag = client.get(path)["ETag"]
    return getattr(client, method)(path, body, HTTP_IF_MATCH=etag)


def errors(response: Any) -> dict[str, str]:
    """The sentence for each pointer of a refusal."""
    return {row["pointer"]: row["detail"] for row in response.json()["errors"]}


def names(response: Any, member: str) -> list[Any]:
    assert response.status_code == 200, response.content
    return [row[member] for row in response.json()["results"]]


def weekday(n: int) -> Any:
    return make.OpeningHoursFactory(weekday=n).pk


def way(n: int) -> Any:
    return make.TransferTimeFactory(to_storeroom=make.StoreroomFactory(code=f"FAR{n}")).pk


def entry(n: int) -> Any:
    return make.stock(make.ItemFactory(), make.StoreroomFactory(), n + 1).entry.pk


def level(n: int) -> Any:
    item = make.ItemFactory()
    make.stock(item, make.StoreroomFactory(), n + 1)
    return item.levels.get().pk


def hold(n: int) -> Any:
    item, room = make.ItemFactory(), make.StoreroomFactory()
    make.stock(item, room, 5)
    return ledger.reserve(item, room, 1, work_order=f"WO-{n}", by="Marta Keller").pk


def kit(n: int) -> Any:
    item, room = make.ItemFactory(), make.StoreroomFactory()
    make.stock(item, room, 5)
    return kits.make(f"WO-{n}", room, [ledger.ReservationLine(item, 1)], by="Marta Keller").pk


def kit_body() -> dict[str, Any]:
    body = shelf_body()
    line = {name: body[name] for name in ("item", "quantity")}
    return {"work_order": "WO-POST", "storeroom": body["storeroom"], "lines": [line]}


def count_task(n: int) -> Any:
    item, room = make.ItemFactory(), make.StoreroomFactory()
    return request_count(item, room, "new", cause="asked", at=make.MORNING).pk


def shelf_body(**more: Any) -> dict[str, Any]:
    item, room = make.ItemFactory(stock_number="SPR-POST"), make.StoreroomFactory()
    make.stock(item, room, 5)
    return {"item": item.stock_number, "storeroom": room.code, "quantity": 1} | more


def fitted(n: int) -> Any:
    return make.InstallationFactory().pk


OPERATIONS = ("bore", "cut_keyseat", "face_hub", "turn_hub")
RULES = ("heavy_mass_kg", "fast_driver_rpm", "small_driver_teeth", "idler_least_teeth")
STOCK_ROLE: dict[str, Any] = {"role": "storeroom", "refused": "viewer"}
SETTINGS = ("same_need_days", "fewest_months_with_demand", "fading_intervals", "fewest_pools")
SOURCES = ("requests", "work_orders", "movements", "installations")
IMPORTANCE = ("vital", "essential", "desirable", "unknown")
MANAGER_ALONE: dict[str, Any] = {"refused": "integration", "by_integration": False}

MASTER_DATA = [
    Resource(
        "specifications",
        lambda n: make.SprocketFactory(teeth=17 + n).pk,
        lambda: {"kind": "sprocket", "chain": "08B", "teeth": 21},
        {"teeth": 23},
    ),
    Resource(
        "items",
        lambda n: make.ItemFactory().stock_number,
        lambda: {"stock_number": "SPR-NEW", "specification": make.SprocketFactory().pk},
        {"description": "SPROCKET 08B-1 Z17"},
    ),
    Resource(
        "storerooms",
        lambda n: make.StoreroomFactory(code=f"ROOM{n}").code,
        lambda: {"code": "KILN", "name": "Storeroom at the kiln"},
        {"pick_minutes": 25},
    ),
    Resource(
        "bins",
        lambda n: make.BinFactory().pk,
        lambda: {"storeroom": make.StoreroomFactory().code, "code": "Z-99"},
        {"code": "Z-98"},
    ),
    Resource(
        "machine-shops",
        lambda n: make.MachineShopFactory(code=f"SHOP{n}").code,
        lambda: {"code": "YARD", "name": "Shop in the yard"},
        {"phone": "17"},
    ),
    Resource(
        "opening-hours",
        weekday,
        lambda: {
            "storeroom": make.StoreroomFactory().code,
            "weekday": 6,
            "opens": "08:00",
            "closes": "12:00",
        },
        {"closes": "13:00"},
    ),
    Resource(
        "transfer-times",
        way,
        lambda: {
            "from_storeroom": make.StoreroomFactory().code,
            "to_storeroom": make.StoreroomFactory(code="KILN").code,
            "minutes": 20,
        },
        {"minutes": 30},
    ),
    Resource(
        "shop-times",
        lambda n: make.ShopTimeFactory(operation=OPERATIONS[n]).operation,
        lambda: {"operation": "weld_hub", "minutes": 90},
        {"minutes": 45},
    ),
    Resource(
        "rules",
        lambda n: make.RuleFactory(name=RULES[n], value=30).name,
        lambda: {"name": "key_pressure_review_mpa", "value": 90},
        {"value": 31},
    ),
    Resource(
        "plants",
        lambda n: make.PlantFactory(code=f"PLANT{n}").code,
        lambda: {"code": "MILL", "name": "Mill Road maltings"},
        {"name": "Weir Lane maltings and silos"},
    ),
    Resource(
        "areas",
        lambda n: make.AreaFactory(code=f"AREA{n}").pk,
        lambda: {"plant": make.PlantFactory().code, "code": "KILN", "name": "Kilning"},
        {"name": "Steeping, north"},
    ),
    Resource(
        "equipment",
        lambda n: make.EquipmentFactory(tag=f"STEEP-EL{n}").tag,
        lambda: {"tag": "KILN-C1", "area": str(make.AreaFactory()), "name": "Kiln conveyor"},
        {"standby": True},
    ),
    Resource(
        "drives",
        lambda n: make.DriveFactory().tag,
        lambda: {"tag": "KILN-C1-D1", "equipment": make.EquipmentFactory().tag, "name": "Head drive"},
        {"power_kw": 2.2},
        queries=3,
    ),
    Resource(
        "positions",
        lambda n: make.InstallationFactory().position.tag,
        lambda: {"tag": "STEEP-EL1-P99", "drive": make.DriveFactory().tag, "role": "driven"},
        {"teeth": 19},
        queries=3,
    ),
    Resource(
        "stock-policies",
        lambda n: make.StockPolicyFactory(set_by_name="the manager").pk,
        lambda: {
            "item": make.ItemFactory().stock_number,
            "storeroom": make.StoreroomFactory().code,
            "reorder_point": 1,
            "order_up_to": 2,
        },
        {"order_up_to": 4},
        **MANAGER_ALONE,
    ),
    Resource(
        "demand-settings",
        lambda n: make.PlantSettingFactory(name=SETTINGS[n], value=6).name,
        lambda: {"name": "fewest_worn_out", "value": 8},
        {"value": 7},
        **MANAGER_ALONE,
    ),
    Resource(
        "record-starts",
        lambda n: make.RecordStartFactory(source=SOURCES[n]).pk,
        lambda: {"storeroom": make.StoreroomFactory(code="KILN").code, "source": "movements"},
        {"complete_from": "2024-03-05"},
        **MANAGER_ALONE,
    ),
    Resource(
        "source-answers",
        lambda n: (
            SourceAnswer.objects.create(
                source="west", kind="items", about="heading", name=f"Feld {n}", answer="teeth"
            ).pk
        ),
        lambda: {"source": "west", "kind": "items", "about": "heading", "name": "Zähne", "answer": "teeth"},
        {"answer": ""},
        **MANAGER_ALONE,
    ),
    Resource(
        "service-targets",
        lambda n: make.ServiceTargetFactory(importance=IMPORTANCE[n]).importance,
        lambda: {"importance": "unknown", "value": 0.9},
        {"value": 0.97},
        **MANAGER_ALONE,
    ),
]
ACTS = [
    Resource(
        "movements", entry, lambda: shelf_body(kind="issue", work_order="WO-1"), needs_key=True, **STOCK_ROLE
    ),
    Resource("kits", kit, kit_body, needs_key=True, queries=3, **STOCK_ROLE),
    Resource(
        "count-tasks",
        count_task,
        lambda: {"item": make.ItemFactory().stock_number, "storeroom": make.StoreroomFactory().code},
        **STOCK_ROLE,
    ),
    Resource("reservations", hold, lambda: shelf_body(work_order="WO-1"), needs_key=True, **STOCK_ROLE),
    Resource(
        "installations",
        fitted,
        lambda: {
            "position": make.PositionFactory().tag,
            "item": make.ItemFactory().stock_number,
            "installed_at": "2024-03-05T06:30:00Z",
        },
        **STOCK_ROLE,
    ),
    Resource(
        "inspections",
        lambda n: make.InspectionFactory().pk,
        lambda: {
            "position": make.PositionFactory().tag,
            "at": "2024-03-05T06:30:00Z",
            "elongation_percent": 0.9,
        },
        **STOCK_ROLE,
    ),
    Resource(
        "requests",
        lambda n: make.RequestFactory().pk,
        lambda: {
            "item": make.ItemFactory().stock_number,
            "storeroom": make.StoreroomFactory().code,
            "at": "2024-03-05T06:30:00Z",
            "result": "not_filled",
        },
        **STOCK_ROLE,
    ),
]
STOCK = Resource("stock", level, dict, queries=3)
WRITABLE = [*MASTER_DATA, *ACTS]
EVERY = [*WRITABLE, STOCK]
