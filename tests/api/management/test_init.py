from datetime import time
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from api.models import Change, Role
from api.operations.first_plant import NotUnderstood, Opening, opening_hours
from drives.models import Plant
from inventory.models import OpeningHours, Storeroom

GIVEN = (
    "--no-input",
    *("--admin", "root", "--plant", "OM=Ommergast", "--timezone", "Europe/Vienna"),
    *("--storeroom", "OM-MAIN=Main store", "--hours", "Mon-Fri 06:00-22:00"),
    *("--person", "anna:manager", "--person", "ben:storeroom:OM"),
)


@pytest.fixture(autouse=True)
def fast_passwords(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    monkeypatch.setattr("api.management.commands.init.call_command", lambda *given, **options: None)


@pytest.mark.django_db
def test_it_makes_a_plant_that_people_can_work_in(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("init", *GIVEN, "--storeroom", "OM-QUAY=Quay store@Europe/Helsinki")

    zones = dict(Storeroom.objects.values_list("code", "timezone"))
    assert zones == {"OM-MAIN": "Europe/Vienna", "OM-QUAY": "Europe/Helsinki"}
    plant = Plant.objects.get()
    assert (plant.name, plant.timezone, plant.storeroom and plant.storeroom.code) == (
        "Ommergast",
        "Europe/Vienna",
        "OM-MAIN",
    )
    assert OpeningHours.objects.filter(storeroom__code="OM-MAIN", opens=time(6), closes=time(22)).count() == 5
    assert User.objects.get(username="root").is_superuser
    ben = User.objects.get(username="ben")
    assert [group.name for group in ben.groups.all()] == [Role.STOREROOM]
    assert list(ben.reach.plants.all()) == [plant]  # type: ignore[attr-defined]
    assert capsys.readouterr().out.count("/account/reset/") == 3
    assert set(Change.objects.values_list("by_name", flat=True)) == {"init"}


@pytest.mark.django_db
def test_run_again_it_changes_nothing() -> None:
    call_command("init", *GIVEN)
    before = Change.objects.count()
    call_command("init", *GIVEN)

    assert Change.objects.count() == before


@pytest.mark.django_db
def test_it_makes_no_plant_beside_the_invented_one() -> None:
    User.objects.create(username="demo-manager")
    with pytest.raises(CommandError, match=r"holds the demo plant.* DATABASE_URL=sqlite:///"):
        call_command("init", *GIVEN)

    assert not Plant.objects.exists()


@pytest.mark.django_db
def test_a_mistake_leaves_nothing_behind() -> None:
    with pytest.raises(CommandError, match=r"'Vienna' is no time zone.* Nothing was changed"):
        call_command("init", *GIVEN, "--storeroom", "OM-QUAY=Quay store@Vienna")
    with pytest.raises(CommandError, match=r"there is no plant 'LW'\. Nothing was changed"):
        call_command("init", *GIVEN, "--person", "eve:viewer:LW")

    assert not User.objects.exists()


@pytest.mark.django_db
def test_it_asks_again_until_it_understands(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = [
        "",
        "nowhere",
        "Europe/Vienna",
        "OM-MAIN=Main store",
        "always",
        "",
        "OM=Ommergast",
        "anna:boss",
        "",
    ]
    monkeypatch.setattr("builtins.input", lambda question: answers.pop(0))
    monkeypatch.setattr("getpass.getpass", lambda question: "a kiln at night 1907")

    call_command("init")

    assert answers == []
    assert User.objects.get(username="admin").check_password("a kiln at night 1907")
    assert OpeningHours.objects.filter(storeroom=Storeroom.objects.get()).count() == 7


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Sat 6:00-14:00", [Opening(5, time(6), time(14))]),
        ("Mon-Tue 00:00-24:00", [Opening(0, time(0), time(0)), Opening(1, time(0), time(0))]),
        ("Sun 22:00-06:00", [Opening(0, time(0), time(6)), Opening(6, time(22), time(0))]),
        ("Friday-Monday 8:00-9:00", [Opening(day, time(8), time(9)) for day in (0, 4, 5, 6)]),
        (
            "Di–Do 8:00-9:00, Sonnabend 8:00-9:00, So. 8:00-9:00",
            [Opening(day, time(8), time(9)) for day in (1, 2, 3, 5, 6)],
        ),
    ],
)
def test_opening_hours_as_people_write_them(text: str, expected: list[Opening]) -> None:
    assert list(opening_hours(text)) == expected


@pytest.mark.parametrize(
    "text", ["Mon", "6:00-14:00", "Mon 6-14", "Mon 25:00-26:00", "Xo-Fr 06:00-22:00", "M 06:00-22:00", ""]
)
def test_what_is_no_opening_time_is_refused(text: str) -> None:
    with pytest.raises(NotUnderstood):
        opening_hours(text)
