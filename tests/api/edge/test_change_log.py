"""Who changed what from what to what, whichever door it came through, and that nobody rewrites it."""

import io
import time
from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group, User
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.test import Client
from rest_framework.test import APIClient

from api.exchange.files import read_file
from api.exchange.run import run_import
from api.models import AccessToken, Change
from inventory.models import Item, StockPolicy
from tests import factories as make
from tests.api.records import MASTER_DATA, Resource, change, count_task, kit, post

pytestmark = pytest.mark.django_db
API = "/api/v1/"


def last() -> Change:
    return Change.objects.order_by("-id")[0]


@pytest.fixture
def chief(db: None) -> Client:
    client = Client()
    client.force_login(make.AdminFactory())
    return client


@pytest.mark.parametrize("resource", MASTER_DATA, ids=lambda one: one.name)
def test_every_record_that_is_written_over_the_api_is_logged(
    resource: Resource, as_manager: APIClient
) -> None:
    made = post(as_manager, resource.path, resource.body())
    path = resource.address(made.json()["id"])
    created = last()
    assert (created.action, created.by_name, created.before) == ("create", "the manager", {})
    assert created.after
    assert created.request_id == made["X-Request-Id"]
    changed = change(as_manager, path, resource.change)
    assert changed.status_code == 200
    entry = last()
    assert (entry.action, entry.record) == ("change", created.record)
    assert entry.after.keys() == entry.before.keys()
    assert entry.after.keys() & resource.change.keys()
    assert "updated_at" not in entry.after
    as_manager.delete(path, HTTP_IF_MATCH=changed["ETag"])
    gone = last()
    assert (gone.action, gone.record, gone.after) == ("delete", created.record, {})
    assert gone.key == entry.key


def test_a_change_keeps_what_differs_alone(as_manager: APIClient) -> None:
    item = make.ItemFactory(stock_number="SPR-1", description="old", lead_time_days=21)
    change(as_manager, f"{API}items/SPR-1/", {"description": "new", "lead_time_days": 21})
    entry = last()
    assert (entry.record, entry.key) == ("inventory.item", "SPR-1")
    assert (entry.before, entry.after) == ({"description": "old"}, {"description": "new"})
    assert item.pk


def test_what_changes_nothing_is_not_logged(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1", description="old")
    change(as_manager, f"{API}items/SPR-1/", {"description": "old"})
    assert not Change.objects.exists()


def test_what_was_refused_is_not_logged(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1")
    change(as_manager, f"{API}items/SPR-1/", {"lead_time_days": -4})
    as_manager.post(f"{API}items/", {"stock_number": "SPR-1"})
    assert not Change.objects.exists()


def test_the_specification_written_with_an_item_is_logged_too(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1")
    change(as_manager, f"{API}items/SPR-1/", {"specification": {"teeth": 18}})
    entry = Change.objects.get(record="inventory.specification")
    assert (entry.before["teeth"], entry.after["teeth"]) == (17, 18)


def test_a_decision_logs_the_policy_that_it_sets(as_manager: APIClient) -> None:
    make.StockingTermsFactory()
    found = make.RecommendationFactory(evidence={"basis": {}})
    make.StockPolicyFactory(item=found.item, storeroom=found.storeroom, reorder_point=5, order_up_to=9)
    body = {"reorder_point": 2, "order_up_to": 3, "reason": "The kiln runs less."}
    assert as_manager.post(f"{API}recommendations/{found.pk}/amend/", body).status_code == 200
    entry = Change.objects.get(record="inventory.stockpolicy")
    assert entry.key == f"{found.item.stock_number}/MAIN"
    assert (entry.before["reorder_point"], entry.after["reorder_point"]) == (5, 2)
    assert (entry.storeroom, entry.by_name) == ("MAIN", "the manager")


def test_a_decision_on_the_page_logs_it_too(chief: Client) -> None:
    make.StockingTermsFactory()
    found = make.RecommendationFactory(evidence={"basis": {}})
    body = {"decision": "amend", "reorder_point": "2", "order_up_to": "3", "reason": "The kiln runs less."}
    chief.post(f"/planning/{found.pk}/", body)
    assert StockPolicy.objects.get().reorder_point == 2
    assert last().after["order_up_to"] == 3
    assert last().by_name == "ines"


def admin_values(client: Client, path: str) -> dict[str, Any]:
    form = client.get(path).context["adminform"].form
    values = {name: form.initial.get(name, field.initial) for name, field in form.fields.items()}
    return {name: value for name, value in values.items() if value is not None}


def test_the_admin_logs_creation_change_and_deletion(chief: Client) -> None:
    chief.post("/admin/auth/group/add/", {"name": "millers"})
    group = Group.objects.get(name="millers")
    chief.post(f"/admin/auth/group/{group.pk}/change/", {"name": "kilners"})
    chief.post(f"/admin/auth/group/{group.pk}/delete/", {"post": "yes"})
    found = [(one.action, one.key, one.by_name) for one in Change.objects.order_by("id")]
    assert found == [
        ("create", "millers", "ines"),
        ("change", "kilners", "ines"),
        ("delete", "kilners", "ines"),
    ]


def test_a_permission_given_in_the_admin_is_logged(chief: Client) -> None:
    user = User.objects.create_user("jonas", password="the kiln is warm")
    path = f"/admin/auth/user/{user.pk}/change/"
    values = admin_values(chief, path)
    group = Group.objects.get_or_create(name="manager")[0]
    body = {**values, "groups": [group.pk], "is_staff": "on"}
    body |= {"date_joined_0": "2026-01-01", "date_joined_1": "06:00:00"}
    body.pop("password", None), body.pop("last_login", None), body.pop("date_joined", None)
    chief.post(path, body)
    entry = last()
    assert (entry.record, entry.key) == ("auth.user", "jonas")
    assert (entry.before["groups"], entry.after["groups"]) == ([], ["manager"])
    assert (entry.before["is_staff"], entry.after["is_staff"]) == (False, True)


def test_a_password_set_for_somebody_is_logged_without_it(chief: Client) -> None:
    user = User.objects.create_user("jonas", password="the kiln is warm")
    body = {"password1": "another warm kiln", "password2": "another warm kiln", "usable_password": "true"}
    chief.post(f"/admin/auth/user/{user.pk}/password/", body)
    assert last().after == {"password": "•••"}
    assert "argon2" not in str(last().before)


def test_a_password_changed_by_oneself_is_logged_without_it(chief: Client) -> None:
    User.objects.filter(username="ines").update(password=make_password("old-and-long-1"))
    chief.force_login(User.objects.get(username="ines"))
    typed = {"old_password": "old-and-long-1"} | dict.fromkeys(
        ("new_password1", "new_password2"), "longer-2-remember"
    )
    assert chief.post("/admin/password_change/", typed).status_code == 302
    entry = Change.objects.get(record="auth.user")
    assert (entry.key, entry.before, entry.after) == ("ines", {"password": "•••"}, {"password": "•••"})


@pytest.mark.parametrize("act", ["stage", "release"])
def test_the_acts_of_a_kit_are_logged(act: str, as_storeroom: APIClient) -> None:
    number = kit(1)
    assert post(as_storeroom, f"/api/v1/kits/{number}/{act}/", {}).status_code == 200
    entry = Change.objects.get(record="inventory.kit")
    assert (entry.by_name, entry.before["state"]) == ("the storeroom", "open")
    assert entry.after["state"] == {"stage": "staged", "release": "released"}[act]


def test_the_acts_of_a_count_are_logged(as_storeroom: APIClient) -> None:
    for act, said in (("count", {"counted": 0}), ("drop", {"note": "shelf is gone"})):
        task = count_task(1)
        assert post(as_storeroom, f"/api/v1/count-tasks/{task}/{act}/", said, key=act).status_code == 200
    entries = Change.objects.filter(record="inventory.counttask").order_by("id")
    assert [entry.after["state"] for entry in entries] == ["counted", "dropped"]


def test_several_deleted_at_once_are_logged_one_by_one(chief: Client) -> None:
    keys = [Group.objects.create(name=f"g{n}").pk for n in range(3)]
    chief.post(
        "/admin/auth/group/",
        {"action": "delete_selected", "_selected_action": keys, "post": "yes"},
    )
    assert sorted(Change.objects.filter(action="delete").values_list("key", flat=True)) == ["g0", "g1", "g2"]


def test_a_token_made_and_revoked_is_logged_without_its_hash(chief: Client) -> None:
    call_command("api_token", "press", role="viewer")
    token = AccessToken.objects.get()
    assert token.digest not in str(last().after)
    assert last().by_name == "the service"
    chief.post("/admin/api/accesstoken/", {"action": "revoke", "_selected_action": [token.pk]})
    assert last().before == {"revoked_at": None}
    assert last().by_name == "ines"


def imported(rows: str, **options: Any) -> Any:
    return run_import("storerooms", read_file(io.BytesIO(rows.encode())), **options)


def test_an_import_logs_each_row_that_it_writes() -> None:
    imported("code,name\nKILN,Kiln\nSTEEP,Steeps\n", by="nightly")
    imported("code,name\nKILN,Kiln\nSTEEP,At the steeps\n", by="nightly")
    found = [(one.action, one.key, one.by_name) for one in Change.objects.order_by("id")]
    assert found == [
        ("create", "KILN", "nightly"),
        ("create", "STEEP", "nightly"),
        ("change", "STEEP", "nightly"),
    ]
    assert (last().before, last().after) == ({"name": "Steeps"}, {"name": "At the steeps"})


def test_a_dry_run_logs_nothing() -> None:
    imported("code,name\nKILN,Kiln\n", dry_run=True)
    assert not Change.objects.exists()


def test_ten_thousand_rows_are_logged_in_few_queries(django_assert_max_num_queries: Any) -> None:
    rows = "stock_number,description\n" + "".join(f"SPR-{n:05d},part {n}\n" for n in range(10_000))
    began = time.perf_counter()
    with django_assert_max_num_queries(400):
        run_import("items", read_file(io.BytesIO(rows.encode())))
    assert time.perf_counter() - began < 60
    assert Change.objects.count() == Item.objects.count() == 10_000


def test_a_place_is_named_beside_the_change(as_manager: APIClient) -> None:
    make.PositionFactory(tag="P1")
    change(as_manager, f"{API}positions/P1/", {"note": "Seen."})
    assert (last().plant, last().key) == ("WEIR", "P1")


def test_the_log_is_read_by_managers(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1", description="old")
    change(as_manager, f"{API}items/SPR-1/", {"description": "new"})
    found = as_manager.get(f"{API}changes/?record=inventory.item&key=SPR-1").json()["results"]
    assert [(one["by_name"], one["before"], one["after"]) for one in found] == [
        ("the manager", {"description": "old"}, {"description": "new"})
    ]


def entry() -> Change:
    return Change.objects.create(by_name="jonas", action="create", record="auth.user", key="x")


def update_it(one: Change) -> None:
    Change.objects.filter(pk=one.pk).update(by_name="somebody else")


def save_it(one: Change) -> None:
    one.by_name = "somebody else"
    one.save()


def delete_it(one: Change) -> None:
    one.delete()


def delete_raw(one: Change) -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM api_change WHERE id = %s", [one.pk])


def update_raw(one: Change) -> None:
    with connection.cursor() as cursor:
        cursor.execute("UPDATE api_change SET key = 'y' WHERE id = %s", [one.pk])


@pytest.mark.parametrize("attempt", [update_it, save_it, delete_it, delete_raw, update_raw])
def test_39_the_database_refuses_to_rewrite_the_log(attempt: Any) -> None:
    one = entry()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        attempt(one)
    assert Change.objects.get(pk=one.pk).by_name == "jonas"


@pytest.mark.parametrize("method", ["put", "patch", "delete", "post"])
def test_39_the_api_takes_no_change_of_the_log(method: str, as_manager: APIClient) -> None:
    one = entry()
    for path in (f"{API}changes/{one.pk}/", f"{API}changes/"):
        assert getattr(as_manager, method)(path, {}, HTTP_IF_MATCH="*").status_code == 405


@pytest.mark.parametrize("page", ["add/", "{}/change/", "{}/delete/"])
def test_39_the_admin_takes_no_change_of_the_log(page: str, chief: Client) -> None:
    one = entry()
    assert chief.post(f"/admin/api/change/{page.format(one.pk)}", {"key": "y"}).status_code == 403
    chief.post(
        "/admin/api/change/", {"action": "delete_selected", "_selected_action": [one.pk], "post": "yes"}
    )
    assert Change.objects.filter(pk=one.pk, key="x").exists()


def test_39_the_log_outlives_its_user(chief: Client) -> None:
    jonas = User.objects.create_user("jonas", password="the kiln is warm")
    one = entry()
    chief.post(f"/admin/auth/user/{jonas.pk}/delete/", {"post": "yes"})
    assert not User.objects.filter(username="jonas").exists()
    assert Change.objects.get(pk=one.pk).by_name == "jonas"
    assert last().action == "delete"
