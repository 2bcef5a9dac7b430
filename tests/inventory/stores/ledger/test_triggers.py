from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.models import Item, StockEntry, Storeroom

SENTENCE = "The ledger is append-only: book a correcting movement instead."
FORBIDDEN = [
    "UPDATE inventory_stockentry SET change = 7",
    "UPDATE inventory_stockentry SET reason = 'nothing' WHERE id IN (SELECT id FROM inventory_stockentry)",
    "DELETE FROM inventory_stockentry",
]


@pytest.fixture
def entry(db) -> StockEntry:
    return booked_receipt()


def booked_receipt(**changes) -> StockEntry:
    item, _ = Item.objects.get_or_create(stock_number="SPR-1")
    storeroom, _ = Storeroom.objects.get_or_create(code="MAIN", defaults={"name": "Main store"})
    values = {
        "kind": "receipt",
        "change": 5,
        "balance_after": 5,
        "occurred_at": datetime(2024, 3, 1, 8, tzinfo=UTC),
        "reference": "DELIVERY-1",
    }
    return StockEntry.objects.create(item=item, storeroom=storeroom, **values | changes)


@pytest.mark.parametrize("statement", FORBIDDEN)
def test_the_database_refuses_to_change_the_ledger(entry, statement):
    with pytest.raises(IntegrityError, match=SENTENCE), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert StockEntry.objects.get().change == 5


def test_saving_a_booked_entry_again_is_refused(entry):
    entry.change = 9
    with pytest.raises(IntegrityError, match=SENTENCE), transaction.atomic():
        entry.save()


def test_deleting_through_a_queryset_is_refused(entry):
    with pytest.raises(IntegrityError, match=SENTENCE), transaction.atomic():
        StockEntry.objects.all().delete()


@pytest.mark.parametrize("same", ["id", "reference"])
def test_replacing_a_row_on_sqlite_is_refused(entry, same):
    if connection.vendor != "sqlite":
        pytest.skip("only SQLite has INSERT OR REPLACE")
    columns = [field.column for field in StockEntry._meta.concrete_fields]
    other = {"id": ("id", "0 - id"), "reference": ("reference", "'other'")}
    changed = {"change": "9"} | dict([other["reference" if same == "id" else "id"]])
    picked = ", ".join(changed.get(column, column) for column in columns)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            f"INSERT OR REPLACE INTO inventory_stockentry ({', '.join(columns)}) "
            f"SELECT {picked} FROM inventory_stockentry"
        )
    assert [row.change for row in StockEntry.objects.all()] == [5]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", [1, 2])
def test_tests_that_commit_begin_with_an_empty_ledger_and_its_triggers(turn):
    assert not StockEntry.objects.exists()
    booked_receipt()
    with pytest.raises(IntegrityError, match=SENTENCE):
        StockEntry.objects.all().delete()
