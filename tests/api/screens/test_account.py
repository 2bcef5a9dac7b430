import re
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.core import mail
from django.core.management import call_command
from django.test import Client
from rest_framework.test import APIClient

from api.models import AccessToken, Change
from api.screens.account.role_table import permissions

pytestmark = pytest.mark.django_db
OLD, NEW = "grain-elevator-7", "kiln-fan-belt-9"


@pytest.fixture
def marta() -> User:
    user = User.objects.create_user("marta", email="marta@malt.example", password=OLD)
    user.groups.add(Group.objects.get_or_create(name="storeroom")[0])
    return user


def test_a_changed_password_is_in_the_log_and_tokens_end_if_their_owner_says_so(
    marta: User, client: Client
) -> None:
    AccessToken.objects.issue("scales", role="storeroom", user=marta)
    client.force_login(marta)
    answer = client.post(
        "/account/password/",
        {"old_password": OLD, "new_password1": NEW, "new_password2": NEW, "end_tokens": "on"},
    )
    assert answer.status_code == 302
    marta.refresh_from_db()
    assert marta.check_password(NEW)
    assert AccessToken.objects.get().revoked_at is not None
    records = list(Change.objects.order_by("id").values_list("record", "by_name"))
    assert records == [("auth.user", "marta"), ("api.accesstoken", "marta")]
    assert NEW not in str(list(Change.objects.values()))


def test_a_wrong_old_password_changes_nothing(marta: User, client: Client) -> None:
    client.force_login(marta)
    answer = client.post(
        "/account/password/", {"old_password": "x", "new_password1": NEW, "new_password2": NEW}
    )
    assert "id_old_password-wrong" in answer.content.decode()
    marta.refresh_from_db()
    assert marta.check_password(OLD)


def set_password(client: Client, address: str) -> None:
    page = client.get(address, follow=True)
    form = page.request["PATH_INFO"]
    assert client.post(form, {"new_password1": NEW, "new_password2": NEW}).status_code == 302


def test_a_link_by_mail_sets_a_password_once(marta: User, client: Client, settings: Any) -> None:
    settings.EMAIL_HOST = "mail.example"
    client.post("/account/reset/", {"email": "marta@malt.example"})
    (address,) = re.findall(r"http://testserver(/account/reset/\S+)", mail.outbox[0].body)
    set_password(client, address)
    marta.refresh_from_db()
    assert marta.check_password(NEW)
    assert "used already" in Client().get(address, follow=True).content.decode()
    settings.PUBLIC_URL = "https://spares.example"
    client.post("/account/reset/", {"email": "marta@malt.example"})
    assert "\nhttps://spares.example/account/reset/" in mail.outbox[1].body


def test_without_mail_an_administrator_prints_the_link(
    marta: User, client: Client, capsys: pytest.CaptureFixture[str], settings: Any
) -> None:
    assert "Ask an administrator" in client.get("/account/reset/").content.decode()
    assert client.post("/account/reset/", {"email": "marta@malt.example"}).status_code == 405
    call_command("password_link", "marta")
    assert capsys.readouterr().out.startswith("the address of this service, then /account/reset/")
    settings.PUBLIC_URL = "https://spares.example"
    call_command("password_link", "marta")
    set_password(client, capsys.readouterr().out.strip().removeprefix(settings.PUBLIC_URL))
    marta.refresh_from_db()
    assert marta.check_password(NEW)


def test_a_person_makes_sees_and_revokes_own_tokens_and_no_others(marta: User, client: Client) -> None:
    AccessToken.objects.issue("machine", role="manager")
    client.force_login(marta)
    page = client.post(
        "/account/tokens/", {"name": "scales", "role": "storeroom", "days": "30"}
    ).content.decode()
    (secret,) = re.findall(r"spares_[\w-]{20,}", page)
    token = AccessToken.objects.get(name="scales")
    assert token.user == marta
    assert "machine" not in page
    caller = APIClient()
    caller.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    assert caller.get("/api/v1/items/").status_code == 200
    client.post(f"/account/tokens/{token.pk}/revoke/")
    assert caller.get("/api/v1/items/").status_code == 401
    assert (
        client.post(f"/account/tokens/{AccessToken.objects.get(name='machine').pk}/revoke/").status_code
        == 404
    )


@pytest.mark.parametrize("wrong", [{"role": "manager"}, {"days": "0"}, {"days": ""}, {"name": ""}])
def test_a_token_with_more_than_its_owner_has_or_without_an_end_is_not_made(
    wrong: dict[str, str], marta: User, client: Client
) -> None:
    client.force_login(marta)
    given = {"name": "scales", "role": "storeroom", "days": "30"} | wrong
    assert client.post("/account/tokens/", given).status_code == 400
    assert not AccessToken.objects.exists()


def test_an_administrator_makes_tokens_of_machines(admin_client: Client) -> None:
    admin_client.post("/account/tokens/", {"name": "work orders", "role": "integration", "days": "365"})
    assert AccessToken.objects.get().user is None


def test_the_table_of_roles_says_what_is_enforced(marta: User, client: Client) -> None:
    """For every list that a token can ask for: who reads it here is answered there."""
    allowed = {one.resource: one.acts for one in permissions()}
    assert allowed["stock-policies"]["change"] == {"manager"}
    assert "storeroom" in allowed["movements"]["change"]
    _, secret = AccessToken.objects.issue("one", role="viewer")
    caller = APIClient()
    caller.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    for resource in ("items", "changes", "webhooks", "movements"):
        may = "viewer" in allowed[resource]["read"]
        assert (caller.get(f"/api/v1/{resource}/").status_code == 200) is may, resource
    client.force_login(marta)
    assert "stock-policies" in client.get("/help/roles/").content.decode()
