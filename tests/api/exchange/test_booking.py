import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import StockEntry, StockLevel, StockPiece
from tests.api.exchange.files import PLANT, load, load_up_to, sentences

pytestmark = pytest.mark.django_db
HEADER = "reference,kind,item,storeroom,bin,condition,quantity,to_storeroom,counted,piece_links,work_order,occurred_at\n"


def levels() -> dict[tuple[str, str], int]:
    rows = StockLevel.objects.values_list("item__stock_number", "storeroom__code", "on_hand")
    return {(item, storeroom): on_hand for item, storeroom, on_hand in rows}


def test_movements_are_booked_in_the_order_of_the_file() -> None:
    load_up_to("movements")

    assert levels() == {("004711", "MAIN"): 2, ("004711", "NORTH"): 1, ("004713", "MAIN"): 300}
    assert [entry.reference for entry in StockEntry.objects.order_by("id")] == [
        "M-1",
        "M-2",
        "M-3",
        "M-4",
        "M-4",
        "M-5",
    ]
    issue = StockEntry.objects.get(reference="M-3")
    assert (issue.position, issue.work_order, issue.recorded_by_name) == ("WL-EL-01-D1-A", "WO-7", "marta")


def test_chain_comes_in_in_its_pieces() -> None:
    load_up_to("movements")

    assert sorted(StockPiece.objects.values_list("links", flat=True)) == [60, 120, 120]


def test_a_reference_is_booked_once() -> None:
    load_up_to("movements")

    result = load("movements")

    assert (result.counts["created"], result.counts["unchanged"]) == (0, 5)
    assert StockEntry.objects.count() == 6


def test_a_file_that_grew_books_what_is_new() -> None:
    load_up_to("movements")

    result = load(
        "movements", PLANT["movements"] + "M-6,issue,004711,MAIN,,,1,,,,,,,,2025-02-01T06:30:00+01:00\n"
    )

    assert (result.counts["created"], result.counts["unchanged"]) == (1, 5)
    assert levels()["004711", "MAIN"] == 1


def test_short_stock_is_told_by_row_and_books_nothing() -> None:
    load_up_to("items")
    rows = (
        "M-1,receipt,004711,MAIN,,,2,,,,,2024-01-08T08:00:00Z\n"
        "M-2,issue,004711,MAIN,,,3,,,,,2024-01-09T08:00:00Z\n"
        "M-3,issue,004711,NORTH,,,1,,,,,2024-01-09T08:00:00Z\n"
        "M-4,issue,004711,MAIN,,,1,,,,,2024-01-10T08:00:00Z\n"
    )

    result = load("movements", HEADER + rows)

    assert (result.counts["created"], result.rejected, result.written) == (2, 2, False)
    assert [(line, column) for line, column, _ in sentences(result)] == [(3, "quantity"), (4, "quantity")]
    assert "3 requested, 2 available" in sentences(result)[0][2]
    assert not StockEntry.objects.exists()


def test_the_sound_movements_are_booked_when_that_is_asked_for() -> None:
    load_up_to("items")
    rows = "M-1,receipt,004711,MAIN,,,2,,,,,2024-01-08T08:00:00Z\nM-2,issue,004711,MAIN,,,3,,,,,2024-01-09T08:00:00Z\n"

    result = load("movements", HEADER + rows, partial=True)

    assert (result.counts["created"], result.rejected) == (1, 1)
    assert levels() == {("004711", "MAIN"): 2}


def test_a_rehearsed_booking_leaves_no_entry() -> None:
    load_up_to("items")

    result = load("movements", dry_run=True)

    assert result.counts["created"] == 5
    assert not StockEntry.objects.exists()


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        (",receipt,004711,MAIN,,,1,,,,,2024-01-08T08:00:00Z", "reference", "must be given"),
        ("M-1,receipt,004711,MAIN,,,,,,,,2024-01-08T08:00:00Z", "quantity", "whole number"),
        ("M-1,recept,004711,MAIN,,,1,,,,,2024-01-08T08:00:00Z", "kind", "must be one of"),
        ("M-1,receipt,4711,MAIN,,,1,,,,,2024-01-08T08:00:00Z", "item", 'Did you mean "004711"?'),
        (
            "M-1,receipt,004711,MAIN,Z-99,,1,,,,,2024-01-08T08:00:00Z",
            "bin",
            "There is no bin 'Z-99' in 'MAIN'",
        ),
        ("M-1,receipt,004711,MAIN,,,1,,,,,2124-01-08T08:00:00Z", "occurred_at", "future"),
        ("M-1,receipt,004711,MAIN,,,1,,,,,2024-01-08", "occurred_at", "with an offset"),
        ("M-1,transfer,004711,MAIN,,,1,,,,,2024-01-08T08:00:00Z", "to_storeroom", "Say where it goes"),
        ("M-1,count,004711,MAIN,,,,,,,,2024-01-08T08:00:00Z", "counted", "whole number"),
        ("M-1,receipt,004711,MAIN,,,10,,,5,,2024-01-08T08:00:00Z", "piece_links", "counted by the piece"),
        ("M-1,issue,004713,MAIN,,,10,,,5,,2024-01-08T08:00:00Z", "piece_links", "leave it empty"),
    ],
)
def test_a_movement_that_makes_no_sense_is_told_by_column(row: str, column: str, sentence: str) -> None:
    load_up_to("items")

    ((line, found, said),) = sentences(load("movements", f"{HEADER}{row}\n"))

    assert (line, found) == (2, column)
    assert sentence in said


def test_a_transfer_lands_in_a_bin_of_where_it_goes() -> None:
    load_up_to("items")
    rows = "M-1,receipt,004711,MAIN,A-02,,2,,,,,2024-01-08T08:00:00Z\nM-2,transfer,004711,MAIN,A-01,,1,NORTH,,,,2024-01-09T08:00:00Z\n"

    load("movements", HEADER + rows)

    places = StockLevel.objects.values_list("storeroom__code", "bin__storeroom__code", "bin__code")
    assert set(places) == {("MAIN", "MAIN", "A-02"), ("NORTH", "NORTH", "A-01")}


def test_many_movements_of_one_item_cost_few_queries() -> None:
    load_up_to("items")
    rows = "".join(f"M-{n},receipt,004711,MAIN,,,1,,,,,2024-01-08T08:00:00Z\n" for n in range(400))

    with CaptureQueriesContext(connection) as queries:
        load("movements", HEADER + rows)

    assert len(queries) < 40
