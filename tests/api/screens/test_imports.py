from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from api.exchange.tables import KINDS
from api.models import ImportRun, ImportSheet, ImportState, Reach
from tests.factories import StoreroomFactory
from tests.jobs import run_queued_jobs
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
ADDRESS = "/imports/"


@pytest.fixture
def page(client: Any, django_user_model: Any) -> Any:
    client.force_login(django_user_model.objects.create_user("ines"))
    return lambda: client.get(ADDRESS).content.decode()


def send(client: Any, text: str) -> Any:
    return client.post("/api/v1/imports/?kind=rules", text, content_type="text/csv")


def test_it_shows_how_far_a_file_is_and_comes_again(page: Any) -> None:
    counts = {"rows": 1_000_000, "read": 1_000_000, "checked": 42_000, "written": 40_000}
    ImportRun.objects.create(
        kind="items", file_name="items.csv", state=ImportState.RUNNING, progress=counts, by_name="ines"
    )

    shown = page()

    assert 'max="2000000" value="1042000"' in shown
    assert "1,000,000 rows: 1,000,000 read, 42,000 checked, 40,000 written" in shown
    assert 'http-equiv="refresh"' in shown
    assert "No scheduler is running" in shown


def test_it_shows_what_came_of_a_file(page: Any, as_manager: Any) -> None:
    send(as_manager, "name,value\nheavy_mass_kg,2\nfast_driver_rpm,x\n")
    assert "not begun" in page()
    run_queued_jobs()

    shown = page()

    assert "1 created" in shown
    assert "1 rejected" in shown
    assert f"/api/v1/imports/{ImportRun.objects.get().pk}/" in shown
    assert "refresh" not in shown


def test_a_file_that_is_refused_as_a_whole_says_why(page: Any) -> None:
    problem = {"code": "file_without_rows", "values": {}}
    ImportRun.objects.create(kind="items", state=ImportState.FAILED, problems=[problem])

    assert "The file names its columns but has no rows." in page()


def test_who_is_limited_sees_what_they_sent(client: Any, django_user_model: Any) -> None:
    user = django_user_model.objects.create_user("ines")
    Reach.objects.create(user=user).storerooms.add(StoreroomFactory())
    for caller, name in ((f"user:{user.pk}", "own.csv"), ("token:0", "other.csv")):
        ImportRun.objects.create(kind="movements", file_name=name, state=ImportState.DONE, caller=caller)
    client.force_login(user)

    shown = client.get(ADDRESS).content.decode()

    assert "own.csv" in shown
    assert "other.csv" not in shown


def test_it_says_how_to_send_a_file(page: Any) -> None:
    shown = page()
    assert "http://testserver/api/v1/imports/?kind=items&amp;dry_run=true" in shown
    assert "import_files FOLDER --dry-run" in shown
    for kind in KINDS:
        assert f"<code>{kind}</code>" in shown
    assert "<strong>stock_number</strong>" in shown


def test_without_files_it_says_so_and_strangers_log_in(page: Any, client: Any) -> None:
    assert "No file has been sent to be imported." in page()
    client.logout()
    assert client.get(ADDRESS).status_code == 302


def test_what_the_rows_are_may_be_said(client: Any) -> None:
    chief = signed_in("manager", "chief")
    chosen = '<option value="storerooms" selected>'
    assert chosen in chief.get(f"{ADDRESS}?kind=storerooms").content.decode()
    file = SimpleUploadedFile("list ü.csv", b"code,name,timezone\nMAIN,Main,Europe/Berlin\n")
    chief.post(ADDRESS, {"kind": "storerooms", "files": file})
    sheet = ImportSheet.objects.get()
    assert (sheet.kind, sheet.title) == ("storerooms", "list ü.csv")


def test_only_who_may_import_is_shown_the_form() -> None:
    clerk = signed_in("storeroom")
    assert 'type="file"' not in clerk.get(ADDRESS).content.decode()
    assert clerk.post(ADDRESS, {"kind": "items"}).status_code == 403
