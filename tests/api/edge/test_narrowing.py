"""Filters find what is rare by its index, and the answer is the same where it is not rare."""

from collections.abc import Iterator
from decimal import Decimal
from itertools import chain
from typing import Any

import pytest
from django.db import connection
from pytest_django import DjangoDbBlocker
from rest_framework.test import APIClient

from api.edge import narrowing
from api.edge.list_parts import order_keys
from api.edge.narrowing import Chosen, index_of, narrowed, target_of
from api.wire.declaration import wire_records
from api.wire.views import view_of
from inventory.models import Item, Specification, StockLevel
from tests.factories import ItemFactory, StockLevelFactory
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db

NARROWED = ("exact", "in", "gte", "lte")
ON_THE_FULL_LIST = {"movements": {"change", "balance_after", "condition", "reference"}}
"""What the ledger is filtered by without an index: one more would be written with each movement."""


@pytest.fixture(scope="module")
def parts(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[list[Item]]:
    def make() -> list[Item]:
        bores = (Decimal("25.4"), Decimal("25"), None, Decimal("30"))
        return [part(at, bore_mm) for at, bore_mm in enumerate(bores)]

    with shared_rows(django_db_blocker, make) as found:
        yield found


def part(at: int, bore_mm: Decimal | None) -> Item:
    specification = Specification.objects.create(
        kind="sprocket",
        bore_mm=bore_mm,
        teeth=15 + at,
        food_contact=[True, False, None, True][at],
        material="carbon_steel",
    )
    item: Item = ItemFactory(stock_number=f"P-{at}", specification=specification)
    StockLevelFactory(item=item, on_hand=at, reserved=at // 2)
    return item


QUERIES = [
    ("items", "bore_mm=25.4", ["P-0"]),
    ("items", "bore_mm__gte=25.4", ["P-0", "P-3"]),
    ("items", "bore_mm__lte=25", ["P-1"]),
    ("items", "teeth__gte=16&teeth__lte=17", ["P-1", "P-2"]),
    ("items", "food_contact=true", ["P-0", "P-3"]),
    ("items", "food_contact=false&material=carbon_steel", ["P-1"]),
    ("items", "material=carbon_steel&ordering=-bore_mm", ["P-3", "P-0", "P-1", "P-2"]),
    ("items", "ordering=-bore_mm", ["P-3", "P-0", "P-1", "P-2"]),
    ("items", "ordering=bore_mm", ["P-1", "P-0", "P-3", "P-2"]),
    ("items", "unit=each,link", ["P-0", "P-1", "P-2", "P-3"]),
    ("items", "stocked=false", []),
    ("stock", "bore_mm__gte=25.4", ["P-0", "P-3"]),
    ("stock", "available__gte=1", ["P-1", "P-2", "P-3"]),
    ("stock", "reserved=1", ["P-2", "P-3"]),
    ("stock", "kind=sprocket&condition=new&limit=500", ["P-0", "P-1", "P-2", "P-3"]),
]


@pytest.mark.parametrize("most", [0, 1, 2_000])
@pytest.mark.parametrize(("path", "query", "expected"), QUERIES)
def test_few_and_many_rows_are_the_same_answer(
    path: str, query: str, expected: list[str], most: int, parts: Any, as_viewer: APIClient, monkeypatch: Any
) -> None:
    monkeypatch.setattr(narrowing, "MOST_KEYS", most)
    rows = as_viewer.get(f"/api/v1/{path}/?{query}").json()["results"]
    assert [row["stock_number" if path == "items" else "item"] for row in rows] == expected


ORDERS = {
    "bore_mm": "P-1 P-0 P-3 P-2",
    "-bore_mm": "P-3 P-0 P-1 P-2",
    "lead_time_days,-bore_mm": "P-3 P-0 P-1 P-2",
    "-lead_time_days,bore_mm": "P-1 P-0 P-3 P-2",
}
FILTERS = ("", "material=carbon_steel&", "lead_time_days__gte=1&")
WALKS = [
    # A third on PostgreSQL too, in which every two of order, filter and limit meet.
    pytest.param(ordering, query, limit, marks=[pytest.mark.sqlite] if (o + q + limit) % 3 else [])
    for o, ordering in enumerate(ORDERS)
    for q, query in enumerate(FILTERS)
    for limit in (1, 2, 3)
]


@pytest.mark.parametrize(("ordering", "query", "limit"), WALKS)
def test_a_walk_over_two_tables_meets_each_row_once(
    ordering: str, query: str, limit: int, parts: Any, as_viewer: APIClient
) -> None:
    Item.objects.update(lead_time_days=7)
    address, walks = f"/api/v1/items/?{query}limit={limit}&ordering={ordering}", {}
    for relation in ("next", "previous"):
        walks[relation] = met = list[list[str]]()
        while address:
            page = as_viewer.get(address).json()
            met.append([row["stock_number"] for row in page["results"]])
            last, address = address, page[relation]
        address = last
    expected = ORDERS[ordering].split()
    assert list(chain(*walks["next"])) == expected
    assert list(chain(*reversed(walks["previous"]))) == expected


@pytest.mark.parametrize("limit", [1, 2, 3])
@pytest.mark.parametrize("ordering", ["bore_mm", "-bore_mm", "-bore_mm,stock_number"])
def test_rows_that_share_what_they_are_ordered_by_are_met_once(
    ordering: str, limit: int, parts: list[Item], as_viewer: APIClient
) -> None:
    Specification.objects.filter(teeth__gte=17).update(bore_mm=Decimal("25.4"))
    for at in range(9):
        ItemFactory(stock_number=f"Q-{at}", specification=None if at == 8 else parts[at % 4].specification)
    address = f"/api/v1/items/?ordering={ordering}"
    rows = as_viewer.get(f"{address}&limit=500").json()["results"]
    expected = [row["stock_number"] for row in rows]
    bores = [row["specification"] and row["specification"]["bore_mm"] for row in rows]
    assert bores == [*sorted(filter(None, bores), reverse=ordering.startswith("-")), None]
    assert len(set(expected)) == 13
    pages = [as_viewer.get(f"{address}&limit={limit}").json()]
    while pages[-1]["next"]:
        pages.append(as_viewer.get(pages[-1]["next"]).json())
    back = [pages[-1]]
    while back[0]["previous"]:
        back.insert(0, as_viewer.get(back[0]["previous"]).json())
    for walked in (pages, back):
        assert [row["stock_number"] for page in walked for row in page["results"]] == expected


def test_an_order_over_two_tables_reads_no_more_than_its_page(
    parts: list[Item], as_viewer: APIClient
) -> None:
    """What is equal in it follows in the order of the index, so that no database sorts it."""
    items = Item.objects.filter(specification__bore_mm__isnull=False)
    keys = order_keys(items, [("specification__bore_mm", False)])
    plan = items.order_by(*(key.order(False) for key in keys)).values("pk")[:2].explain()
    assert [key.path for key in keys] == ["specification__bore_mm", "specification__pk", "pk"]
    if connection.vendor == "sqlite":
        assert "specification_by_bore_mm" in plan
        assert "ORDER BY" not in plan


def test_rare_rows_are_found_by_their_keys(parts: list[Item]) -> None:
    items = Item.objects.all()
    found = narrowed(Chosen(items, items), "specification__bore_mm", "exact", 30)
    assert (found.is_walked, "bore_mm" in str(found.rows.query)) == (False, False)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has statistics")
def test_many_rows_are_not_looked_up_one_by_one(parts: list[Item], monkeypatch: Any) -> None:
    monkeypatch.setattr(narrowing, "MOST_KEYS", 1)
    levels = StockLevel.objects.order_by("pk")
    found = narrowed(Chosen(levels, levels), "condition", "in", ["new"])
    assert found.is_walked
    assert "stock_of_condition" not in found.rows.explain()


@pytest.mark.parametrize("path", ["items", "stock", "specifications", "movements"])
def test_each_filter_of_a_long_list_has_an_index(path: str) -> None:
    record = next(one for one in wire_records() if one.path == path)
    lacking = set()
    for name, one in view_of(record).filterset_class.base_filters.items():
        place, _, column = (one.field_name or "").rpartition("__")
        if one.method or one.lookup_expr not in NARROWED or not column or column == "free":
            continue
        model = target_of(record.model, place)
        if model is not None and column in {field.name for field in model._meta.concrete_fields}:
            field: Any = model._meta.get_field(column)
            if index_of(model, column) is None and not field.db_index:
                lacking.add(name.split("__")[0])
    assert lacking == ON_THE_FULL_LIST.get(path, set())


SORTED_BY_FEW = {"equipment": {"area__code"}}
"""Areas are a few of each plant: the equipment of one is found by its key."""
LONG_LISTS = (
    "delivery-checks drives equipment inbound-messages inspections installations items meter-readings movements positions requests "
    "specifications stock supply-orders work-orders"
)


@pytest.mark.parametrize("path", LONG_LISTS.split())
def test_each_order_of_a_long_list_has_an_index(path: str) -> None:
    record = next(one for one in wire_records() if one.path == path)
    view = view_of(record)
    lacking = set()
    for ordered in {*view.ordering_fields.values(), view.ordering[0].removeprefix("-")}:
        place, _, column = ordered.rpartition("__")
        model: Any = target_of(record.model, place)
        if ordered in record.model._default_manager.none().query.annotations or column == "free":
            continue  # By an index of its expression.
        unique_first = {one.fields[0] for one in model._meta.constraints if getattr(one, "fields", ())}
        led = {index.fields[0] for index in model._meta.indexes if index.fields} | unique_first
        if column not in led and not model._meta.get_field(column).unique:
            lacking.add(ordered)
    assert lacking == SORTED_BY_FEW.get(path, set())


def test_each_index_of_a_filter_serves_one() -> None:
    """No others: an index that no list asks for costs every write."""
    served = set()
    for record in wire_records():
        for one in (
            view_of(record).filterset_class.base_filters.values() if view_of(record).filterset_class else ()
        ):
            place, _, column = (one.field_name or "").rpartition("__")
            served.add((target_of(record.model, place), column))
    for model in (Item, Specification, StockLevel):
        named = [index for index in model._meta.indexes if "_of_" in index.name and len(index.fields) == 1]
        assert [index.name for index in named if (model, index.fields[0]) not in served] == []
