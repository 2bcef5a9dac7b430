"""Three invented senders of different habits, none of which can be changed; what they mean stands in rows of a file."""

import io
import json
from datetime import datetime
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.exchange.files import read_file
from api.exchange.run import run_import
from api.models import SourceAnswer
from drives.models import InboundMessage, MeterReading, WorkOrder
from inventory.models import StockEntry
from tests.api.records import API
from tests.factories import BinFactory, ItemFactory, PositionFactory, StoreroomFactory

pytestmark = pytest.mark.django_db

# A job system: nested JSON, milliseconds since 1970, codes of its own.
JOBS = """source,kind,about,name,answer
west,work-orders,rows_at,,data.jobs
west,work-orders,heading,job.no,external_id
west,work-orders,heading,job.changed,updated_at
west,work-orders,heading,job.type,kind
west,work-orders,heading,job.state,status
west,work-orders,heading,job.what,title
west,work-orders,heading,place.tag,position
west,work-orders,heading,place.hall,
west,work-orders,word,kind:REP,corrective
west,work-orders,word,status:20,open
west,work-orders,word,status:90,closed
"""
# A store system: CSV with semicolons, decimal commas, local time without an offset.
BOOKINGS = """source,kind,about,name,answer
magazin,movements,zone,,Europe/Vienna
magazin,movements,heading,Beleg,
magazin,movements,heading,Sachnr,item
magazin,movements,heading,Wert je Stk,unit_cost
magazin,movements,heading,BewArt,kind
magazin,movements,reading,Zeit,dmy
magazin,movements,reading,Wert je Stk,comma
magazin,movements,heading,Zeit,occurred_at
magazin,movements,heading,Fach,bin
magazin,movements,word,kind:101,receipt
magazin,movements,word,kind:261,issue
magazin,movements,missing,reference,magazin:{Beleg}
magazin,movements,missing,storeroom,MAIN
"""
# A plan of work: flat JSON without a time of change; what is done is not in its list any more.
PLAN = """source,kind,about,name,answer
plan,work-orders,omitted,,cancelled
plan,work-orders,heading,id,external_id
plan,work-orders,heading,txt,title
plan,work-orders,heading,pos,position
plan,work-orders,missing,updated_at,{@received}
"""


def configure(text: str) -> None:
    sheet = read_file(io.BytesIO(text.encode()), name="answers.csv", kind="source-answers")
    assert run_import("source-answers", sheet, by="marta").is_accepted


def send(
    client: APIClient, address: str, body: Any, content_type: str = "application/json"
) -> dict[str, Any]:
    text = body if isinstance(body, str) else json.dumps(body)
    response = client.post(f"{API}feeds/{address}/", text.encode(), content_type=content_type)
    assert response.status_code == 200, response.content
    found: dict[str, Any] = response.json()
    return found


def job(number: str, changed: int, **more: Any) -> dict[str, Any]:
    described = {
        "no": number,
        "changed": changed,
        "type": "REP",
        "state": 20,
        "what": "Kette gerissen",
        **more,
    }
    return {"job": described, "place": {"tag": "P-1", "hall": 3}}


def test_nested_json_with_milliseconds_and_codes(as_integration: APIClient) -> None:
    configure(JOBS)
    PositionFactory(tag="P-1")
    # 1793520000000 ms after 1970 is 2026-11-01T08:00:00Z (counted with `date -u -d @1793520000`).
    message = {"data": {"jobs": [job("J-1", 1_793_520_000_000)]}}
    assert send(as_integration, "west/work-orders", message)["counts"] == {"created": 1}
    order = WorkOrder.objects.get(source="west", external_id="J-1")
    assert (order.kind, order.status, order.position.tag) == ("corrective", "open", "P-1")
    assert order.source_updated_at == datetime.fromisoformat("2026-11-01T08:00:00+00:00")
    assert send(as_integration, "west/work-orders", message)["counts"] == {"unchanged": 1}

    older = {"data": {"jobs": [job("J-1", 1_793_519_000_000, state=90)]}}
    send(as_integration, "west/work-orders", older)
    order.refresh_from_db()
    assert order.status == "open"


def test_a_reason_to_wait_has_the_name_of_the_sender(as_integration: APIClient) -> None:
    configure(JOBS)
    assert send(as_integration, "west/work-orders", {"data": {"jobs": [job("J-2", 1_793_520_000_000)]}})[
        "counts"
    ] == {"waiting": 1}
    (waiting,) = as_integration.get(f"{API}inbound-messages/?outcome=waiting&source=west").json()["results"]
    assert waiting["reasons"][0]["sent_field"] == "place.tag"
    assert waiting["sent"]["record"]["place.hall"] == 3


def test_csv_with_decimal_commas_and_local_time(as_integration: APIClient) -> None:
    configure(BOOKINGS)
    room = StoreroomFactory(code="MAIN", timezone="UTC")
    BinFactory(storeroom=room, code="A-1")
    ItemFactory(stock_number="K-1")
    text = (
        "Beleg;Sachnr;BewArt;Menge;Wert je Stk;Fach;Zeit\r\n"
        "5001;K-1;101;3;23,50;A-1;01.07.2026 08:00\r\n"
        "5002;K-1;261;1;;A-1;02.07.2026 06:30\r\n"
        "5003;K-9;101;1;1,00;A-1;02.07.2026 07:00\r\n"
        "5004;K-1;999;1;1,00;A-1;02.07.2026 07:00\r\n"
    )
    first = send(as_integration, "magazin/movements", text, "text/csv")
    assert first["counts"] == {"created": 2, "rejected": 2}
    assert {error["column"] for row in first["rows"] for error in row["errors"]} == {"Sachnr", "BewArt"}
    entry = StockEntry.objects.get(reference="magazin:5001")
    assert (entry.occurred_at.isoformat(), str(entry.unit_cost)) == ("2026-07-01T06:00:00+00:00", "23.50")
    assert send(as_integration, "magazin/movements", text, "text/csv")["counts"] == {
        "unchanged": 2,
        "rejected": 2,
    }

    held = InboundMessage.objects.filter(kind="record", outcome="waiting").order_by("external_id")
    assert [one.external_id for one in held] == ["magazin:5003", "magazin:5004"]
    ItemFactory(stock_number="K-9")
    SourceAnswer.objects.create(
        source="magazin", kind="movements", about="word", name="kind:999", answer="receipt"
    )
    for one in held:
        response = as_integration.post(
            f"{API}inbound-messages/{one.pk}/retry/", {}, HTTP_IDEMPOTENCY_KEY=f"r-{one.pk}"
        )
        assert response.json()["outcome"] == "applied"
    assert StockEntry.objects.filter(reference__startswith="magazin:").count() == 4


def test_flat_json_that_says_by_leaving_out(as_integration: APIClient) -> None:
    configure(PLAN)
    PositionFactory(tag="P-1")
    plan = [{"id": n, "txt": f"Arbeit {n}", "pos": "P-1"} for n in range(1, 9)]
    assert send(as_integration, "plan/work-orders", plan)["counts"] == {"created": 8}
    assert send(as_integration, "plan/work-orders", plan)["counts"] == {"unchanged": 8}

    answer = send(as_integration, "plan/work-orders", plan[2:])
    assert [note["code"] for note in answer["notes"]][-1] == "omitted_settled"
    states = dict(
        WorkOrder.objects.filter(source="plan").order_by("external_id").values_list("external_id", "status")
    )
    assert states == {"1": "cancelled", "2": "cancelled", **{str(n): "open" for n in range(3, 9)}}


def test_a_list_that_is_rather_cut_off_settles_nothing(as_integration: APIClient) -> None:
    configure(PLAN)
    plan = [{"id": n, "txt": f"Arbeit {n}", "pos": None} for n in range(1, 20)]
    send(as_integration, "plan/work-orders", plan)
    answer = send(as_integration, "plan/work-orders", plan[:3])
    assert "too_many_omitted" in [note["code"] for note in answer["notes"]]
    assert not WorkOrder.objects.filter(source="plan").exclude(status="open").exists()
    assert not MeterReading.objects.exists()


def test_a_source_that_nobody_has_described_is_not_there(
    as_integration: APIClient, as_viewer: APIClient
) -> None:
    unknown = as_integration.post(f"{API}feeds/east/work-orders/", b"[{}]", content_type="application/json")
    assert unknown.status_code == 404
    assert "send a sample at /feeds/" in unknown.json()["detail"]
    mistyped = as_integration.post(f"{API}feeds/east/workorders/", b"[{}]", content_type="application/json")
    assert mistyped.status_code == 404
    assert "work-orders" in mistyped.json()["detail"]
    assert (
        as_viewer.post(f"{API}feeds/east/work-orders/", b"[{}]", content_type="application/json").status_code
        == 403
    )
