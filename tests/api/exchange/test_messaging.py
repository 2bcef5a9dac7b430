import io
import json
from typing import Any

import pytest

from api.exchange.files import read_file
from api.exchange.results import ImportResult
from api.exchange.run import run_import
from drives.models import InboundMessage, WorkOrder
from tests import factories as make
from tests.drives.feed.messages import closed, day, on_hand, order, place, used

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def plant(db: None) -> None:
    place()


def lines(*bodies: dict[str, Any]) -> bytes:
    named = [{"source": "planning", "external_id": f"WO-{n}"} | body for n, body in enumerate(bodies, 1)]
    return "".join(json.dumps(body) + "\n" for body in named).encode()


def imported(content: bytes, **options: Any) -> ImportResult:
    sheet = read_file(io.BytesIO(content), name="work-orders.ndjson", kind="work-orders")
    return run_import("work-orders", sheet, **options)


def outcomes(result: ImportResult) -> list[str]:
    return [str(row.outcome) for row in result.row_results]


def test_messages_come_in_as_over_the_api() -> None:
    sent = closed(3, day(700), [used("SPR-B", 2)], attributes={"shift": [1.5]})
    assert outcomes(imported(lines(sent))) == ["created"]
    assert (on_hand("SPR-B"), WorkOrder.objects.get().attributes) == (3, {"shift": [1.5]})


def test_the_same_file_again_is_unchanged() -> None:
    content = lines(closed(3, day(700), [used()]), order(1))
    imported(content)
    assert outcomes(imported(content)) == ["unchanged", "unchanged"]


def test_a_row_that_waits_is_kept_and_says_for_what() -> None:
    result = imported(lines(order(1, position="GONE")))
    assert (outcomes(result), result.is_accepted) == (["waiting"], True)
    (error,) = result.row_results[0].errors
    assert (error.fact.code, error.fact.values["name"]) == ("record_not_found", "GONE")


def test_a_bad_row_keeps_the_file_out_unless_others_may_come() -> None:
    content = lines(order(1, attributes={"shift": 1}), order(1, colour="red"))
    assert not imported(content).written
    assert not InboundMessage.objects.exists()
    assert outcomes(imported(content, partial=True)) == ["created", "rejected"]


def test_a_dry_run_reports_the_same_and_changes_nothing() -> None:
    content = lines(closed(3, day(700), [used()]))
    assert outcomes(imported(content, dry_run=True)) == ["created"]
    assert not InboundMessage.objects.exists()
    assert on_hand("SPR-A") == 5


def test_a_row_without_its_number_is_named() -> None:
    (row,) = imported(json.dumps(order(1, parts_used=[used()])).encode()).row_results
    assert row.errors[0].column == "external_id"


def test_an_import_of_items_sets_free_what_waited_for_them() -> None:
    imported(lines(order(1, parts_needed=[used("004719")])))
    assert InboundMessage.objects.get().outcome == "waiting"
    items = read_file(io.BytesIO(b"stock_number,description\n004719,Kettenrad\n"), kind="items")
    assert run_import("items", items).written
    assert InboundMessage.objects.get().outcome == "applied"


def test_a_message_of_a_file_may_be_read_over_the_api_later() -> None:
    imported(lines(order(1, equipment=make.EquipmentFactory().tag)))
    assert InboundMessage.objects.get().body["equipment"] == "STEEP-EL1"
