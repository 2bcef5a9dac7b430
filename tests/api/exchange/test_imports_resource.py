import io
import json
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from api.edge import body_limits
from api.exchange import files, ndjson
from api.models import Change, ImportFile, ImportRun
from api.resources.imports import JsonLinesParser
from inventory.models import Rule, StockEntry
from tests.api.exchange.files import PLANT, load_up_to
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/imports/"
RULES = "name,value\nheavy_mass_kg,2\n"


def send(
    client: APIClient, text: str | bytes, query: str, media_type: str = "text/csv", **headers: str
) -> Any:
    content = text.encode() if isinstance(text, str) else text
    return client.post(f"{ADDRESS}?{query}", content, content_type=media_type, headers=headers)


def results(client: APIClient, answer: Any) -> dict[str, Any]:
    assert answer.status_code == 202, answer.content
    run_queued_jobs()
    found: dict[str, Any] = client.get(answer["Location"]).json()
    return found


def test_it_takes_a_file_and_tells_what_became_of_each_row(as_manager: APIClient) -> None:
    answer = send(as_manager, RULES, "kind=rules")

    assert answer.json()["state"] == "queued"
    found = results(as_manager, answer)
    assert (found["state"], found["written"], found["created"], found["by"]) == (
        "done",
        True,
        1,
        "the manager",
    )
    assert found["rows"] == [{"line": 2, "key": "heavy_mass_kg", "outcome": "created", "errors": []}]
    assert Rule.objects.get().value == 2


def test_it_takes_a_form_with_the_kind_beside_the_file(as_manager: APIClient) -> None:
    form = {"file": SimpleUploadedFile("../../x\n.csv", RULES.encode()), "kind": "rules", "dry_run": "true"}

    found = results(as_manager, as_manager.post(ADDRESS, form, format="multipart"))

    assert (found["dry_run"], found["created"], found["written"]) == (True, 1, False)
    assert "/" not in found["file_name"]
    assert "\n" not in found["file_name"]
    assert not Rule.objects.exists()


def test_it_takes_json_lines_and_workbooks(as_manager: APIClient) -> None:
    book = openpyxl.Workbook()
    for row in (["name", "value"], ["heavy_mass_kg", 2], ["fast_driver_rpm", 3.5]):
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)

    lines = send(as_manager, '{"name": "heavy_mass_kg", "value": 2}\n', "kind=rules", "application/x-ndjson")
    workbook = send(
        as_manager,
        stream.getvalue(),
        "kind=rules",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    )

    assert results(as_manager, lines)["created"] == 1
    assert (results(as_manager, workbook)["created"], results(as_manager, workbook)["unchanged"]) == (1, 1)


def test_rejected_rows_are_told_and_keep_the_file_out(as_manager: APIClient) -> None:
    found = results(
        as_manager, send(as_manager, "name,value\nheavy_mass_kg,two\nfast_driver_rpm,1\n", "kind=rules")
    )

    assert (found["state"], found["written"], found["rejected"]) == ("failed", False, 1)
    assert found["rows"][0]["errors"] == [
        {
            "column": "value",
            "detail": "'two' is not a number: use the digits 0 to 9 and a decimal point.",
            "code": "cell_not_number",
            "values": {"cell": "two"},
        }
    ]
    assert not Rule.objects.exists()


def test_the_good_rows_come_in_when_that_is_asked_for(as_manager: APIClient) -> None:
    found = results(
        as_manager,
        send(as_manager, "name,value\nheavy_mass_kg,two\nfast_driver_rpm,1\n", "kind=rules&partial=true"),
    )

    assert (found["state"], found["written"], found["created"]) == ("done", True, 1)


def test_wrong_columns_are_told_as_problems(as_manager: APIClient) -> None:
    found = results(as_manager, send(as_manager, "name,valeu\nheavy_mass_kg,2\n", "kind=rules"))

    assert found["state"] == "failed"
    problem = found["problems"][0]
    assert (problem["code"], problem["values"]["suggestion"]) == ("column_not_known", "value")
    assert 'Did you mean "value"?' in problem["explanation"]


@pytest.mark.parametrize(
    ("text", "query", "at", "sentence"),
    [
        (RULES, "", "kind", "Say what the rows are"),
        (RULES, "kind=rule", "kind", 'Did you mean "rules"?'),
        (RULES, "kind=rules&dry_run=perhaps", "dry_run", "true or false"),
        (RULES, "kind=rules&dryrun=true", "dryrun", 'Did you mean "dry_run"?'),
        ("name,value\nheavy_mass_kg,2\0\n", "kind=rules", "/file", "NUL"),
        ("name,value\n", "kind=rules", "/file", "no rows"),
        ("", "kind=rules", "/file", ""),
        (b"PK\x03\x04", "kind=rules", "/file", "archive"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(
    as_manager: APIClient, text: str | bytes, query: str, at: str, sentence: str
) -> None:
    answer = send(as_manager, text, query)

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    (error,) = answer.json()["errors"]
    assert at in {error["pointer"], error.get("parameter")}
    assert sentence in error["detail"]
    assert not ImportRun.objects.exists()


def test_a_member_of_the_form_that_is_not_known_is_refused(as_manager: APIClient) -> None:
    form = {"file": SimpleUploadedFile("r.csv", RULES.encode()), "kind": "rules", "dry": "true"}

    answer = as_manager.post(ADDRESS, form, format="multipart")

    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, "/dry")


def test_json_is_no_file(as_manager: APIClient) -> None:
    assert as_manager.post(f"{ADDRESS}?kind=rules", {}, format="json").status_code == 415


def test_a_file_beyond_the_limit_is_too_large(as_manager: APIClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.resources.imports.MAX_FILE_BYTES", 100)
    monkeypatch.setattr(files, "MAX_FILE_BYTES", 100)

    answer = send(as_manager, "name,value\n" + "x" * 100, "kind=rules")
    assert answer.status_code == 413
    assert "100 bytes" in answer.json()["detail"]
    form = {"file": SimpleUploadedFile("r.csv", b"x" * 101), "kind": "rules"}
    assert as_manager.post(ADDRESS, form, format="multipart").status_code == 413


def test_a_body_that_says_it_is_too_large_is_refused_unread_with_the_limit(
    as_manager: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(body_limits, "MAX_FILE_BYTES", 30_000_000)
    monkeypatch.setattr(JsonLinesParser, "parse", lambda *given: pytest.fail("The body was read."))

    answer = as_manager.post(
        f"{ADDRESS}?kind=items", b"{}", content_type="application/x-ndjson", CONTENT_LENGTH=str(10**9)
    )

    assert answer.status_code == 413
    assert "30100000 bytes" in answer.json()["detail"]


def test_only_the_first_lines_of_json_are_read_with_the_request(
    as_manager: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.resources.imports.ROWS_LOOKED_AT", 2)
    parsed: list[str] = []
    loads = json.loads

    def counted(text: str, **options: Any) -> Any:
        parsed.append(text)
        return loads(text, **options)

    rows = "".join(f'{{"name": "rule_{n}", "value": 1}}\n' for n in range(9))
    monkeypatch.setattr(ndjson.json, "loads", counted)
    answer = as_manager.post(f"{ADDRESS}?kind=rules", rows.encode(), content_type="application/x-ndjson")
    monkeypatch.undo()

    assert answer.status_code == 202
    assert {line.strip() for line in parsed if "rule_" in line} == set(rows.splitlines()[:2])
    run_queued_jobs()
    assert as_manager.get(answer["Location"]).json()["rejected"] == 9


def test_the_same_key_takes_the_file_once(as_manager: APIClient) -> None:
    key = {"Idempotency-Key": "k1"}

    first = send(as_manager, RULES, "kind=rules", **key)
    second = send(as_manager, RULES, "kind=rules", **key)

    assert (second.status_code, second["Idempotency-Replayed"]) == (202, "true")
    assert (second.json(), second["Location"]) == (first.json(), first["Location"])
    assert ImportRun.objects.count() == 1
    assert send(as_manager, RULES + "fast_driver_rpm,1\n", "kind=rules", **key).status_code == 422


def test_a_storeroom_imports_what_it_does_and_no_more(as_storeroom: APIClient, as_viewer: APIClient) -> None:
    load_up_to("items")

    assert results(as_storeroom, send(as_storeroom, PLANT["movements"], "kind=movements"))["created"] == 5
    assert StockEntry.objects.first().recorded_by_name == "the storeroom"  # type: ignore[union-attr]
    assert send(as_storeroom, RULES, "kind=rules").status_code == 403
    assert send(as_viewer, RULES, "kind=rules").status_code == 403


def test_a_storeroom_imports_requests(as_storeroom: APIClient) -> None:
    load_up_to("items")
    assert results(as_storeroom, send(as_storeroom, PLANT["requests"], "kind=requests"))["created"] == 2


@pytest.mark.parametrize("kind", ["stock-policies", "service-targets"])
def test_how_many_to_keep_is_imported_by_a_manager_alone(
    kind: str, as_manager: APIClient, as_integration: APIClient
) -> None:
    load_up_to("items")
    refused = send(as_integration, PLANT[kind], f"kind={kind}")
    assert (refused.status_code, "for people to decide" in refused.json()["detail"]) == (403, True)
    assert results(as_manager, send(as_manager, PLANT[kind], f"kind={kind}"))["created"] == 2


def test_an_integration_imports_supply_orders(as_integration: APIClient) -> None:
    load_up_to("items")
    sent = send(as_integration, PLANT["supply-orders"], "kind=supply-orders")
    assert results(as_integration, sent)["created"] == 2


def test_a_stranger_sends_and_reads_nothing(as_stranger: APIClient) -> None:
    assert send(as_stranger, RULES, "kind=rules").status_code == 401
    assert as_stranger.get(ADDRESS).status_code == 401


def test_a_list_leaves_the_rows_out(as_manager: APIClient, django_assert_max_num_queries: Any) -> None:
    for _ in range(3):
        send(as_manager, RULES, "kind=rules")
        run_queued_jobs()

    # The kind has no index: the list is walked by its keys before the rows of the page are read.
    with django_assert_max_num_queries(4):
        page = as_manager.get(f"{ADDRESS}?kind=rules&limit=2").json()

    assert [run["unchanged"] for run in page["results"]] == [1, 1]
    assert "rows" not in page["results"][0]
    assert as_manager.get(f"{ADDRESS}?kind=items").json()["results"] == []
    assert as_manager.get(f"{ADDRESS}999/").status_code == 404


def test_a_file_waits_for_the_scheduler(as_manager: APIClient) -> None:
    answer = send(as_manager, RULES, "kind=rules")
    assert as_manager.get(answer["Location"]).json()["state"] == "queued"
    assert ImportFile.objects.exists()
    results(as_manager, answer)
    assert not ImportFile.objects.exists()


def test_the_change_log_names_the_sender_and_the_request(as_manager: APIClient) -> None:
    results(as_manager, send(as_manager, RULES, "kind=rules", **{"X-Request-Id": "from-the-sender"}))
    (change,) = Change.objects.filter(record="inventory.rule")
    assert (change.by_name, change.request_id) == ("the manager", "from-the-sender")


def test_a_failure_of_the_service_is_told_and_writes_nothing(
    as_manager: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any, **options: Any) -> None:
        raise RuntimeError("out of order")

    monkeypatch.setattr("api.exchange.import_runs.import_stream", broken)

    found = results(as_manager, send(as_manager, RULES, "kind=rules"))

    assert found["state"] == "failed"
    (problem,) = found["problems"]
    assert problem["code"] == "import_failed"
    assert problem["explanation"] == "The service failed, nothing was written: send the file again."
