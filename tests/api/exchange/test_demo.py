import re
from datetime import timedelta
from typing import Any

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command
from django.utils import timezone

from api.management.commands import demo
from api.models import AccessToken, Role, digest
from tests.api.exchange.files import load_up_to

pytestmark = pytest.mark.django_db


@pytest.fixture
def empty_plant(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    """A plant whose files are loaded before: what is tested is the people, not the files, nor how passwords are kept."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    monkeypatch.setattr(demo, "demo_plants", lambda: {"WEIR": "Weir Lane"})
    load_up_to("plants")


def test_a_user_and_a_token_of_each_role_can_get_in(
    empty_plant: None, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("demo", "--no-serve")

    told = capsys.readouterr().out
    for role in Role.values:
        found = re.search(rf"User (demo-{role}) with the role {role}, password (\S+)", told)
        assert found is not None
        user = authenticate(username=found[1], password=found[2])
        assert user is not None
        assert [group.name for group in user.groups.all()] == [role]  # type: ignore[attr-defined]
        secret = re.search(rf"Token demo-{role} with the role {role}, for 30 days: (\S+)", told)
        assert secret is not None
        assert AccessToken.objects.get(digest=digest(secret[1])).role == role


def test_secrets_are_printed_once(empty_plant: None, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("demo", "--no-serve")
    capsys.readouterr()
    call_command("demo", "--no-serve")

    assert "password" not in capsys.readouterr().out


def test_it_becomes_a_server_on_this_machine_alone(
    empty_plant: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Any] = []
    monkeypatch.setattr(demo, "become_server", lambda *given, **settings: started.append((given, settings)))

    call_command("demo")

    ((arguments, environment),) = started
    assert arguments[arguments.index("--bind") + 1] == "127.0.0.1:8000"
    assert environment["SCHEDULER_INSIDE"] == "true"


def test_it_stays_away_from_a_plant_that_is_not_its_own() -> None:
    load_up_to("plants")

    with pytest.raises(CommandError, match=r"holds the plant WEIR \(Weir Lane\).*nothing was changed"):
        call_command("demo", "--no-serve")

    assert not AccessToken.objects.exists()


def test_it_stays_away_where_somebody_begins() -> None:
    load_up_to("storerooms")

    with pytest.raises(CommandError, match="holds 2 storerooms"):
        call_command("demo", "--no-serve")


def test_its_tokens_expire_and_are_then_replaced(
    empty_plant: None, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("demo", "--no-serve")
    AccessToken.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    capsys.readouterr()
    call_command("demo", "--no-serve")

    assert capsys.readouterr().out.count("for 30 days") == len(Role)


def test_it_stays_out_of_production(settings: Any) -> None:
    settings.PRODUCTION = True

    with pytest.raises(CommandError, match="must not be loaded in production"):
        call_command("demo", "--no-serve")


def test_a_file_that_is_not_accepted_leaves_nothing(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "plants.csv").write_text("code,name\nWEIR,Weir Lane\n")
    (tmp_path / "areas.csv").write_text("plant,code,name\nWIER,STEEP,Steeping\n")
    monkeypatch.setattr(demo, "FILES", tmp_path)

    with pytest.raises(
        CommandError, match=r"areas.csv was not accepted.\nline 2, plant: There is no plant 'WIER'"
    ):
        call_command("demo", "--no-serve")

    assert not demo.Plant.objects.exists()
