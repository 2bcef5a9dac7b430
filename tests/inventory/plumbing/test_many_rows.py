from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Item
from inventory.plumbing import many_rows
from inventory.plumbing.many_rows import Columns, default_of, insert_columns, new_keys, update_columns
from inventory.plumbing.text_search import rows_with_words

pytestmark = pytest.mark.django_db
COUNT = 7


def items(count: int = COUNT, **columns: list[Any]) -> Columns:
    fields = [field for field in Item._meta.concrete_fields if not field.generated]
    blank = {f.attname: [default_of(f)] * count for f in fields if not getattr(f, "auto_now", False)}
    blank.pop("created_at")
    numbers = [f"SPR-{n}" for n in range(count)]
    return {**blank, "id": new_keys(Item, count), "stock_number": numbers, "description": numbers, **columns}


@pytest.fixture
def small_statements(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three items a statement."""
    monkeypatch.setattr(many_rows, "MOST_VALUES", 3 * len(Item._meta.concrete_fields))


@pytest.mark.usefixtures("small_statements")
def test_rows_beyond_one_statement_are_written_and_found_by_their_text() -> None:
    columns = items(description=[f"Wheel {n}" for n in range(COUNT)])

    insert_columns(Item, columns)

    assert Item.objects.count() == COUNT
    for pk, text in zip(columns["id"], columns["description"], strict=True):
        assert rows_with_words(Item, ["description"], [[text]]) == [pk]


@pytest.mark.usefixtures("small_statements")
def test_an_update_sets_the_rows_of_its_keys_and_no_others() -> None:
    columns = items(unit_cost=[Decimal("12.50")] * COUNT)
    insert_columns(Item, columns)
    *changed, last = columns["id"]
    costs = [Decimal(n) / 4 for n in range(COUNT - 1)]

    update_columns(Item, changed, {"description": ["Wheel"] * len(changed), "unit_cost": costs})

    found = list(Item.objects.order_by("pk").values_list("description", "unit_cost"))
    assert found == [*(("Wheel", cost) for cost in costs), (f"SPR-{COUNT - 1}", Decimal("12.50"))]
    assert sorted(rows_with_words(Item, ["description"], [["wheel"]]) or ()) == changed
    assert rows_with_words(Item, ["description"], [[f"SPR-{COUNT - 1}"]]) == [last]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL copies rows")
def test_many_rows_are_few_statements() -> None:
    columns = items(2_000)

    with CaptureQueriesContext(connection) as told:
        insert_columns(Item, columns)

    assert len(told) == -(-2_000 // (many_rows.MOST_VALUES // len(Item._meta.concrete_fields)))
