import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from drives.models import Request
from tests.api.exchange.files import load, load_up_to, sentences

pytestmark = pytest.mark.django_db
HEADER = "reference,at,item,position,storeroom,quantity,result,issued_item,work_order\n"
ROW = "RQ-1,2024-02-01T06:20:00+01:00,004711,WL-EL-01-D1-A,MAIN,1,filled,004711,WO-7\n"


def test_requests_are_recorded_with_what_was_given() -> None:
    load_up_to("requests")

    filled, missed = Request.objects.order_by("at")
    assert (str(filled.item), str(filled.issued_item), str(filled.position)) == (
        "004711",
        "004711",
        "WL-EL-01-D1-A",
    )
    assert (missed.quantity, missed.result, missed.position, missed.issued_item) == (
        2,
        "not_filled",
        None,
        None,
    )


def test_the_same_file_again_changes_nothing() -> None:
    load_up_to("requests")

    assert load("requests").counts["unchanged"] == 2
    assert Request.objects.count() == 2


def test_a_file_that_grew_records_what_is_new() -> None:
    load_up_to("items")
    load("requests", HEADER + ROW)

    result = load("requests", HEADER + ROW + ROW.replace("RQ-1", "RQ-3"))

    assert (result.counts["created"], result.counts["unchanged"]) == (1, 1)


def test_a_row_that_says_less_contradicts_nothing() -> None:
    load_up_to("requests")

    shorter = "reference,at,item,storeroom,result\nRQ-1,2024-02-01T06:20:00+01:00,004711,MAIN,filled\n"

    assert load("requests", shorter).counts["unchanged"] == 1


def test_a_row_that_says_otherwise_is_refused() -> None:
    load_up_to("requests")

    ((line, column, sentence),) = sentences(load("requests", HEADER + ROW.replace("WO-7", "WO-8")))

    assert (line, column) == (2, "reference")
    assert "recorded already with another work_order" in sentence


@pytest.mark.parametrize(
    ("changed", "column", "words"),
    [
        (("RQ-1", ""), "reference", "must be given"),
        (("filled", "lost"), "result", "must be one of"),
        (("2024-02-01T06:20:00+01:00", "2124-02-01T06:20:00+01:00"), "at", "in the future"),
        (("2024-02-01T06:20:00+01:00", "2024-02-01"), "at", "with an offset"),
        ((",1,", ",0,"), "quantity", "from 1 to"),
        (("MAIN", "MIAN"), "storeroom", "There is no storeroom"),
        (("filled,004711", "filled,004712"), "issued_item", "filled_by_substitute"),
        (("004711,WL-EL-01-D1-A", ","), "item", "an item, a position or both"),
    ],
)
def test_a_row_that_makes_no_sense_is_told_by_column(
    changed: tuple[str, str], column: str, words: str
) -> None:
    load_up_to("items")

    ((line, found, said),) = sentences(load("requests", HEADER + ROW.replace(*changed)))

    assert (line, found) == (2, column)
    assert words in said


def test_many_requests_cost_few_queries() -> None:
    load_up_to("items")
    rows = "".join(ROW.replace("RQ-1", f"RQ-{n}") for n in range(200))

    with CaptureQueriesContext(connection) as queries:
        load("requests", HEADER + rows)

    # 19 for the rows and the run; one leaves what came to the next stocking run.
    assert len(queries) <= 20
