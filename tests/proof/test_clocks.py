"""Clocks that step, nights in which they change, and 29 February.

Proves: a step of the server's clock by an hour either way expires no more than what falls due within it, forgets no key, books
nothing twice and leaves the order of the ledger alone; one that was a year ahead shuts nobody out once it is set right; a local
day has 23, 24 or 25 hours and every minute lies in one; what was fitted on 29 February is read a year and ten years later.
`PROOF=long` sets the clock of a running service to and fro between its requests. Does not prove: the nightly work and
leases, which `tests/api/operations/scheduling` and `tests/inventory/plumbing/test_leases.py` do, nor clocks that differ between
machines beyond the five minutes that the ledger allows.
"""

import random
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge import shared_counts
from api.models import AccessToken, IdempotencyRecord, LoginAttempt
from api.operations.signs import PROBE, writing_sign
from inventory.models import Lease, Reservation, StockEntry
from inventory.stores import ledger
from inventory.stores.counting.count_requests import local_day
from inventory.stores.opening_hours import OpenPeriod, WeeklyHours
from tests import factories as make
from tests import movements
from tests.api.records import post
from tests.conftest import ClientFor
from tests.examples import IS_LONG
from tests.jobs import get_calculated
from tests.proof.conftest import Prepared
from tests.proof.service import running, verified

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
STEPS = [timedelta(hours=1), timedelta(hours=-1)]
SetClock = Callable[[datetime], None]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> SetClock:
    def set_clock(moment: datetime) -> None:
        monkeypatch.setattr(timezone, "now", lambda: moment)

    set_clock(NOON)
    return set_clock


@pytest.mark.parametrize("step", STEPS)
def test_a_step_of_the_clock_ends_no_reservation_before_its_hour(clock: SetClock, step: timedelta) -> None:
    item, main = make.ItemFactory(), make.StoreroomFactory()
    make.stock(item, main, 30)
    for hours in range(30):
        expires = NOON + timedelta(hours=hours + 0.5)
        ledger.reserve(item, main, 1, work_order=f"WO-{hours}", by=MARTA, expires_at=expires)
    clock(NOON + step)
    call_command("expire_reservations", verbosity=0)
    ended = [hold.work_order for hold in Reservation.objects.exclude(state="open")]
    assert ended == (["WO-0"] if step > timedelta(0) else [])
    assert ledger.replay() == ()


@pytest.mark.parametrize("step", STEPS)
def test_a_key_is_known_after_the_clock_has_stepped(
    clock: SetClock, as_storeroom: APIClient, step: timedelta
) -> None:
    item, main = make.ItemFactory(stock_number="SPR-1"), make.StoreroomFactory()
    make.stock(item, main, 9)
    body = {"kind": "issue", "item": "SPR-1", "storeroom": "MAIN", "quantity": 1}
    first = post(as_storeroom, "/api/v1/movements/", body)
    clock(NOON + step)
    call_command("purge", verbosity=0)
    again = post(as_storeroom, "/api/v1/movements/", body)
    assert (again.status_code, again.content) == (201, first.content)
    assert IdempotencyRecord.objects.count() == 1
    assert StockEntry.objects.issues().count() == 1


@pytest.mark.parametrize("step", STEPS)
def test_the_ledger_goes_by_its_order_and_not_by_the_clock(clock: SetClock, step: timedelta) -> None:
    item, main = make.ItemFactory(), make.StoreroomFactory()
    make.stock(item, main, 9)
    movements.count(item, main, 8, by=MARTA)
    clock(NOON + step)
    issued = movements.issue(item, main, 3, by=MARTA).entry
    ledger.reverse(issued, by=MARTA, reason="typed wrongly")
    movements.count(item, main, 8, by=MARTA)
    assert [entry.balance_after for entry in StockEntry.objects.order_by("pk")] == [9, 8, 5, 8, 8]
    assert item.levels.get().last_counted_at == max(NOON, NOON + step)
    assert ledger.replay() == ()


YEAR_BACK = timedelta(days=-365)


@pytest.mark.parametrize("step", [*STEPS, YEAR_BACK])
def test_no_limit_of_requests_outlives_a_step(
    clock: SetClock, client_for: ClientFor, settings: Any, step: timedelta
) -> None:
    settings.REQUESTS_PER_MINUTE, settings.WEB_CONCURRENCY = 2, 2
    shared_counts._shares.clear()
    client = client_for("viewer")
    assert [client.get("/api/v1/chains/").status_code for _ in range(3)] == [200, 200, 429]
    clock(NOON + step)
    assert client.get("/api/v1/chains/").status_code == 200


@pytest.mark.parametrize("step", [timedelta(hours=-1), YEAR_BACK])
def test_a_name_is_not_shut_for_as_long_as_the_clock_was_ahead(
    clock: SetClock, db: None, settings: Any, step: timedelta
) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    User.objects.create_user("jonas", password="the kiln is warm")
    LoginAttempt.objects.bulk_create(
        LoginAttempt(username="jonas", address="127.0.0.1", at=NOON) for _ in range(12)
    )
    sent = {"username": "jonas", "password": "the kiln is warm"}
    assert Client().post("/login/", sent).status_code == 429
    clock(NOON + step)
    assert Client().post("/login/", sent).status_code == 302


def test_a_token_ends_by_the_clock_and_counts_again_where_that_is_set_back(clock: SetClock) -> None:
    token, secret = AccessToken.objects.issue("half an hour", role="viewer")
    AccessToken.objects.filter(pk=token.pk).update(expires_at=NOON + timedelta(minutes=30))
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    answers = []
    for step in (timedelta(), *STEPS):
        clock(NOON + step)
        answers.append(client.get("/api/v1/chains/").status_code)
    assert answers == [200, 401, 200]


def test_readiness_writes_after_the_clock_was_set_back_too(clock: SetClock) -> None:
    for moment in (NOON, NOON + YEAR_BACK):
        clock(moment)
        assert writing_sign(moment).fault == ""
        assert Lease.objects.get(name=PROBE).until == moment


@pytest.mark.skipif(not IS_LONG, reason="PROOF=long sets the clock of a running service")
def test_a_running_service_whose_clock_goes_to_and_fro_books_each_key_once(prepared: Prepared) -> None:
    chance, url = random.Random(17), prepared.copy("stepping_clock")
    with running(url, prepared.token, "tests.proof.stepping_wsgi", REQUESTS_PER_MINUTE="600") as service:
        booked = {}
        for number in range(300):
            key = f"k-{chance.randrange(number + 1)}"
            hours = chance.choice((-8_760, -24, -1, -0.2, 0, 0.2, 1, 24, 8_760))
            headers = {"X_Clock": str(int(hours * 3_600))}
            answer = service.move("receipt", key, headers=headers)
            assert answer.status == 201, answer.body
            assert booked.setdefault(key, answer.json["id"]) == answer.json["id"]
            assert service.get("/readyz", auth=False, **headers).status == 200
        assert service.on_hand() == 500 + len(booked)
        assert service.movements() == 1 + len(booked)
        rows = service.get("/api/v1/movements/?limit=500&ordering=id").json["results"]
        assert [row["balance_after"] for row in rows] == list(range(500, 501 + len(booked)))
    assert verified(url).endswith("0 differences")


@pytest.mark.parametrize(
    ("day", "hours"), [(date(2026, 3, 29), 23), (date(2026, 10, 25), 25), (date(2026, 7, 1), 24)]
)
def test_a_local_day_is_as_long_as_it_is(day: date, hours: int) -> None:
    room = make.StoreroomFactory(timezone="Europe/Berlin")
    begin = datetime.combine(day, time(), UTC) - timedelta(hours=12)
    days = Counter(local_day(room, begin + timedelta(minutes=minute)) for minute in range(48 * 60))
    assert days[day] == hours * 60


@pytest.mark.parametrize(("sunday", "minutes"), [("2026-03-29", 300), ("2026-10-25", 420)])
def test_a_shop_that_is_open_all_night_works_as_long_as_the_night(sunday: str, minutes: int) -> None:
    hours = WeeklyHours("Europe/Berlin", (OpenPeriod(6, time(0), time(6)),))
    begin = datetime.fromisoformat(f"{sunday}T00:00").replace(tzinfo=UTC) - timedelta(hours=6)
    opens, closes = next(hours.openings(begin))
    assert closes - opens == timedelta(minutes=minutes)


def test_a_period_in_the_hour_that_the_clocks_skip_opens_nothing() -> None:
    hours = WeeklyHours("Europe/Berlin", (OpenPeriod(6, time(2, 30), time(3, 15)),))
    before = datetime(2026, 3, 29, 0, 30, tzinfo=UTC)
    assert hours.attended_from(before) == datetime(2026, 4, 5, 0, 30, tzinfo=UTC)
    assert hours.done_at(before, 30) == datetime(2026, 4, 5, 1, 0, tzinfo=UTC)


@pytest.mark.parametrize("read_on", ["2025-02-28T12:00:00Z", "2025-03-01T12:00:00Z", "2034-02-28T12:00:00Z"])
def test_what_was_fitted_on_29_february_is_read_years_later(
    clock: SetClock, as_manager: APIClient, read_on: str
) -> None:
    leap_day = datetime(2024, 2, 29, 12, tzinfo=UTC)
    fitted = make.InstallationFactory(installed_at=leap_day)
    make.stock(fitted.item, make.StoreroomFactory(), 2, occurred_at=leap_day)
    clock(datetime.fromisoformat(read_on))
    tag = fitted.position.tag
    for path in (
        f"installations/{fitted.pk}/",
        f"positions/{tag}/substitutes/",
        "exposure/",
        "reorder-list/",
    ):
        assert get_calculated(as_manager, f"/api/v1/{path}").status_code == 200, path
    removal = {"removed_at": read_on, "ended_by": "failure"}
    assert post(as_manager, f"/api/v1/installations/{fitted.pk}/remove/", removal).status_code in (200, 201)
