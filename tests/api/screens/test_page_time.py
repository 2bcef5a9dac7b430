"""Days and times of pages and of their files: those of the storerooms, whatever the clock of the service says."""

import re
from datetime import UTC, date, datetime

import pytest
from django.test import Client
from django.utils import timezone

from api.answers.figures import calculate_figures
from tests.factories import StoreroomFactory, SupplyOrderFactory
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
EVENING = datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
"""In Berlin the new year has begun."""


@pytest.fixture
def client(monkeypatch: pytest.MonkeyPatch) -> Client:
    monkeypatch.setattr(timezone, "now", lambda: EVENING)
    return signed_in("manager")


def foot(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, address
    found = re.search(r"Times in ([\w/]+)", answer.content.decode())
    assert found, address
    return found[1]


def test_a_page_is_in_the_time_of_most_storerooms_of_its_reader_and_of_the_one_that_is_asked_for(
    client: Client,
) -> None:
    assert foot(client, "/") == "UTC"
    StoreroomFactory(code="A", timezone="Asia/Tokyo")
    StoreroomFactory(code="B", timezone="Europe/Berlin")
    StoreroomFactory(code="C", timezone="Europe/Berlin")
    for address in (
        "/",
        "/planning/buy/",
        "/planning/missing/",
        "/planning/measure-next/",
        "/help/",
        "/account/",
        "/lists/",
    ):
        assert foot(client, address) == "Europe/Berlin", address
    for address in ("/planning/buy/", "/planning/reorder/", "/planning/suppliers/", "/lists/movements/"):
        assert foot(client, f"{address}?storeroom=A") == "Asia/Tokyo", address
    assert foot(client, "/planning/buy/?storeroom=NONE") == "Europe/Berlin"
    assert timezone.get_current_timezone_name() == "UTC"


def test_a_file_counts_the_days_of_its_page(client: Client) -> None:
    SupplyOrderFactory(
        storeroom=StoreroomFactory(timezone="Europe/Berlin"),
        external_id="PO-1",
        promised_on=date(2026, 12, 30),
    )
    assert "2 days late" in " ".join(client.get("/planning/buy/").content.decode().split())
    _heading, line = b"".join(client.get("/planning/buy.csv").streaming_content).decode().splitlines()  # type: ignore[attr-defined]
    assert ",2026-12-30,2," in line


def test_late_orders_of_today_are_those_of_the_day_in_the_storeroom(client: Client) -> None:
    room = StoreroomFactory(timezone="Europe/Berlin")
    SupplyOrderFactory(storeroom=room, external_id="PO-1", promised_on=date(2026, 12, 31))
    assert "PO-1" in client.get("/").content.decode()


def test_figures_count_up_to_today_in_the_storeroom(client: Client) -> None:
    room = StoreroomFactory(timezone="Europe/Berlin")
    SupplyOrderFactory(storeroom=room, external_id="PO-1", promised_on=date(2026, 12, 31))
    page = client.get("/planning/figures/?until=2027-01-01")
    assert page.status_code == 200
    assert "?since=2026-12-02" in page.content.decode()
    assert client.get("/planning/figures/?until=2027-01-02").status_code == 400
    assert "PO-1" in client.get("/planning/figures/late_orders/").content.decode()


def test_a_figure_counts_from_midnight_in_the_storeroom_and_tells_its_days(client: Client) -> None:
    room = StoreroomFactory(timezone="Europe/Berlin")
    before, after = (datetime(2026, 12, 9, hour, 30, tzinfo=UTC) for hour in (22, 23))
    for number, at in (("PO-9TH", before), ("PO-10TH", after)):
        SupplyOrderFactory(storeroom=room, external_id=number, ordered_at=at, emergency=True)
    page = client.get("/planning/figures/emergency_buys/?since=2026-12-10").content.decode()
    assert "PO-10TH" in page
    assert "PO-9TH" not in page
    assert "10 Dec 2026" in page


def test_the_job_counts_the_days_of_the_page_that_asked(client: Client) -> None:
    room = StoreroomFactory(timezone="Europe/Berlin")
    SupplyOrderFactory(storeroom=room, ordered_at=datetime(2026, 12, 9, 23, 30, tzinfo=UTC), emergency=True)

    def counted(zone: str) -> int:
        found = calculate_figures("2026-12-10", "2026-12-10", "90", "", zone)
        return next(one.count for one in found.figures if one.name == "emergency_buys")

    assert (counted("Europe/Berlin"), counted("UTC")) == (1, 0)


def test_a_year_before_the_first_plausible_one_is_refused_at_its_field(client: Client) -> None:
    """The year 1 has no midnight east of Greenwich."""
    StoreroomFactory(timezone="Europe/Berlin")
    for address in ("suppliers", "figures"):
        page = client.get(f"/planning/{address}/?since=0001-01-01").content.decode()
        assert "Please correct" in page, address
        assert "1900" in page, address
    assert client.get("/planning/figures/issued/?since=0001-01-01").url.endswith("/figures/?since=0001-01-01")  # type: ignore[attr-defined]
