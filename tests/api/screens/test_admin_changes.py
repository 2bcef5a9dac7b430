"""The administration: what a change touches is shown before it is saved; roles stay; fields have words and units."""

import re

import pytest
from django.contrib import admin
from django.contrib.auth.models import Group
from django.test import Client
from django.urls import reverse

from api.models import Role
from drives.models import Cover, Drive
from inventory.models import Item
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(client: Client) -> Client:
    client.force_login(make.AdminFactory())
    return client


def page_of(record: object, action: str = "change") -> str:
    options = record._meta  # type: ignore[attr-defined]
    return reverse(f"admin:{options.app_label}_{options.model_name}_{action}", args=[record.pk])  # type: ignore[attr-defined]


def filled(client: Client, address: str, **changes: str) -> dict[str, str]:
    """What the form of the page would send."""
    form = client.get(address).context["adminform"].form
    sent = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in (sent | changes).items() if value not in (None, False)}


def test_other_teeth_are_saved_only_after_what_they_touch_was_shown(ines: Client) -> None:
    item = make.ItemFactory(stock_number="SPR-1")
    twin = make.ItemFactory(stock_number="SPR-2", specification=item.specification)
    make.stock(twin, make.StoreroomFactory(code="NORTH"), 3)
    place = make.PositionFactory(tag="K1-DRV")
    make.InstallationFactory(position=place, item=item)
    part, teeth = item.specification, item.specification.teeth
    sent = filled(ines, page_of(part), teeth=str(teeth + 1))
    shown = ines.post(page_of(part), sent)
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown.content.decode()))
    for said in (
        "Items of this part: 2 (SPR-1, SPR-2)",
        "Pieces on hand: 3 (NORTH)",
        "is fitted: 1 (K1-DRV)",
    ):
        assert said in words
    part.refresh_from_db()
    assert part.teeth == teeth
    kept = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', shown.content.decode()))
    assert ines.post(page_of(part), kept | {"confirmed": "yes"}).status_code == 302
    part.refresh_from_db()
    assert part.teeth == teeth + 1


def test_a_number_without_anything_on_it_and_a_note_are_saved_at_once(ines: Client) -> None:
    bare, item = make.ItemFactory(stock_number="SPR-1"), make.ItemFactory(stock_number="SPR-2")
    make.stock(item, make.StoreroomFactory(), 3)
    for record, changes in ((item, {"note": "Ask Jonas."}), (item, {"stock_number": "SPR-9"})):
        answer = ines.post(page_of(record), filled(ines, page_of(record), **changes))
        assert answer.status_code == (302 if "note" in changes else 200)
    assert Item.objects.get(pk=item.pk).stock_number == "SPR-2"
    assert bare.stock_number == "SPR-1"


def test_other_teeth_of_a_position_show_what_is_fitted_and_what_served_there(ines: Client) -> None:
    place = make.PositionFactory(tag="K1-DRV", teeth=19)
    make.InstallationFactory(position=place, item=make.ItemFactory(stock_number="SPR-1"))
    Cover.objects.create(position=place, item=make.ItemFactory(stock_number="SPR-2"), grade="drop_in")
    shown = ines.post(page_of(place), filled(ines, page_of(place), teeth="21"))
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", shown.content.decode()))
    for said in (
        "Teeth 19 21",
        "Items fitted there: 1 (SPR-1)",
        "Items that could serve there, judged again: 1 (SPR-2)",
    ):
        assert said in words
    place.refresh_from_db()
    assert place.teeth == 19


def test_teeth_changed_in_the_rows_of_a_drive_are_shown_too(ines: Client) -> None:
    place = make.PositionFactory(tag="K1-DRV", teeth=19)
    make.InstallationFactory(position=place, item=make.ItemFactory(stock_number="SPR-1"))
    page = ines.get(page_of(place.drive))
    rows = page.context["inline_admin_formsets"][0].formset
    sent = filled(ines, page_of(place.drive))
    for form in (rows.management_form, *rows.initial_forms):
        values = {form.add_prefix(name): form[name].value() for name in form.fields}
        sent |= {name: value for name, value in values.items() if value not in (None, False)}
    shown = ines.post(page_of(place.drive), sent | {rows.initial_forms[0].add_prefix("teeth"): "21"})
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", shown.content.decode()))
    assert "K1-DRV: Teeth 19 21" in words
    place.refresh_from_db()
    assert place.teeth == 19


def test_the_group_of_a_role_is_neither_deleted_nor_renamed(ines: Client) -> None:
    role, own = Group.objects.get(name=Role.MANAGER), Group.objects.create(name="Kiln shift")
    assert ines.post(page_of(role, "delete"), {"post": "yes"}).status_code == 403
    ines.post(page_of(role), {"name": "bosses"})
    chosen = {"action": "delete_selected", "_selected_action": [role.pk, own.pk], "post": "yes"}
    ines.post(reverse("admin:auth_group_changelist"), chosen)
    assert set(Group.objects.values_list("name", flat=True)) >= {*Role.values, "Kiln shift"}
    assert ines.post(page_of(own, "delete"), {"post": "yes"}).status_code == 302


def test_what_surrounds_a_drive_is_ticked(ines: Client) -> None:
    drive = make.DriveFactory(environment=["hot"])
    page = ines.get(page_of(drive)).content.decode()
    assert re.search(r'type="checkbox" name="environment" value="hot"[^>]* checked', page)
    assert "Power, kW" in page
    assert 'aria-label="' in page
    sent = filled(ines, page_of(drive), environment=["washdown", "hot"])  # type: ignore[arg-type]
    rows = {f"positions-{name}": "0" for name in ("TOTAL_FORMS", "INITIAL_FORMS")}
    assert ines.post(page_of(drive), sent | rows).status_code == 302
    assert sorted(Drive.objects.get().environment) == ["hot", "washdown"]


def test_every_field_that_can_be_edited_stands_under_some_heading() -> None:
    for model, page in admin.site._registry.items():
        if not page.fieldsets or model._meta.app_label == "auth":
            continue
        shown = {name for _title, group in page.fieldsets for name in group["fields"]}
        left_out = {field.name for field in model._meta.concrete_fields if field.name != "id"} - shown
        assert left_out == set(), model
