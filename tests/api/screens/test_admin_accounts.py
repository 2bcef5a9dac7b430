from typing import Any

import pytest
from django.contrib.auth.models import Permission
from django.test import Client

from tests.factories import AdminFactory, UserFactory

pytestmark = pytest.mark.django_db
USERS = "/admin/auth/user/"


@pytest.fixture
def staff() -> Client:
    """Somebody who may change users, and is no administrator."""
    user = UserFactory(username="petra", is_staff=True)
    user.user_permissions.set(Permission.objects.filter(content_type__app_label="auth"))
    client = Client()
    client.force_login(user)
    return client


def test_who_is_no_administrator_makes_none(staff: Client) -> None:
    clerk = UserFactory(username="marta")
    page = staff.get(f"{USERS}{clerk.pk}/change/")
    assert page.status_code == 200
    assert "is_superuser" not in page.content.decode()
    form = page.context["adminform"].form
    sent: dict[str, Any] = {name: form[name].value() or "" for name in form.fields if name != "password"}
    sent |= {"is_superuser": "on", "date_joined_0": "2026-01-01", "date_joined_1": "06:00"}
    sent = {name: value for name, value in sent.items() if value != ""}
    assert staff.post(f"{USERS}{clerk.pk}/change/", sent).status_code == 302
    clerk.refresh_from_db()
    assert not clerk.is_superuser


def test_an_administrator_is_neither_seen_nor_changed_by_others(staff: Client) -> None:
    chief = AdminFactory(username="chief")
    assert "chief" not in staff.get(USERS).content.decode()
    for address in ("change/", "password/", "delete/"):
        assert staff.get(f"{USERS}{chief.pk}/{address}").status_code in (302, 404)
    sent = {"action": "delete_selected", "_selected_action": [chief.pk], "post": "yes"}
    staff.post(USERS, sent)
    chief.refresh_from_db()


def test_an_administrator_is_offered_the_mark() -> None:
    client, clerk = Client(), UserFactory(username="marta")
    client.force_login(AdminFactory(username="chief"))
    assert "is_superuser" in client.get(f"{USERS}{clerk.pk}/change/").content.decode()


def test_a_link_to_set_a_password_is_handed_out_and_none_of_an_administrator(staff: Client) -> None:
    clerk, chief = UserFactory(username="marta"), AdminFactory(username="chief")
    chosen = {"action": "hand_out_links", "_selected_action": [clerk.pk, chief.pk]}
    page = staff.post(USERS, chosen, follow=True).content.decode()
    assert "Link with which marta sets a password" in page
    assert page.count("http://testserver/account/reset/") == 1


def test_permissions_are_those_of_records_that_have_a_page() -> None:
    client, clerk = Client(), UserFactory(username="marta")
    client.force_login(AdminFactory())
    page = client.get(f"{USERS}{clerk.pk}/change/").content.decode()
    assert "Users: change" in page
    assert "Items: change" in page
    for internal in ("Answer line", "Sessions:", "Content types:", "Rate counts:"):
        assert internal not in page


@pytest.mark.parametrize(("language", "words"), [("en", "finished to size"), ("de", "fertig gebohrt")])
def test_a_word_of_a_vocabulary_is_chosen_as_the_pages_say_it(language: str, words: str) -> None:
    client = Client()
    client.force_login(AdminFactory())
    client.cookies["language"] = language
    page = client.get("/admin/inventory/specification/add/").content.decode()
    assert f'<option value="finished">{words}</option>' in page
