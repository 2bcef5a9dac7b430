"""What a manager sets on pages: by the rules of the API, with who and when, and never over another's change."""

import re

import pytest
from django.test import Client
from django.utils import timezone

from api.models import Change
from drives.models import Drive, RecordedVerdict
from inventory.models import Item, ServiceTarget, ShopTime, StockingTerms
from tests.factories import (
    DriveFactory,
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    RecommendationFactory,
)
from tests.jobs import get_calculated
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
SETTINGS = "/planning/settings/"


@pytest.fixture
def client() -> Client:
    return signed_in("manager", "the manager")


def page(client: Client, address: str) -> str:
    return " ".join(client.get(address).content.decode().split())


def hidden(text: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', text)
    assert found, name
    return found[1].replace("&quot;", '"')


def test_a_target_is_set_and_says_who_set_it_and_what_rests_on_it(client: Client) -> None:
    RecommendationFactory(importance="vital")
    address = f"{SETTINGS}targets/vital/"
    text = page(client, address)
    assert "start value: common practice, no source" in text
    assert "1 recommendation rests on it." in text
    body = {
        "kind": "fill_rate",
        "value": "0.98",
        "tolerable_wait_hours": "",
        "note": "",
        "key": hidden(text, "key"),
    }
    assert client.post(address, body)["Location"] == SETTINGS
    assert ServiceTarget.objects.get().value == 0.98
    text = page(client, address)
    client.post(address, body | {"value": "0.97", "etag": hidden(text, "etag")})
    text = page(client, address)
    assert "To undo it, set again: Target 0.98." in text
    assert "<strong>the manager</strong>" in text
    assert "Target: 0.98 → 0.97" in text
    assert "set by the manager" in page(client, SETTINGS)


@pytest.mark.parametrize("is_read_between", [False, True])
def test_a_setting_that_is_sent_twice_is_set_and_reported_once(client: Client, is_read_between: bool) -> None:
    DriveFactory(tag="KLN-D1")
    forms: dict[str, dict[str, str]] = {
        "targets/vital/": {"kind": "fill_rate", "value": "0.98"},
        "drives/KLN-D1/": {"criticality": "vital", "downtime_cost_per_hour": "900", "currency": "EUR"},
        "terms/": {
            "holding_rate_per_year": "0.25", "order_cost": "40", "currency": "EUR", "planning_days": "7",
            "staging_days": "2", "chain_joints": "0", "worst_grade": "with_work",
        },
    }  # fmt: skip
    for address, said in forms.items():
        text = page(client, SETTINGS + address)
        form = said | {name: hidden(text, name) for name in ("key", "etag")}
        assert client.post(SETTINGS + address, form)["Location"] == SETTINGS
        changes = Change.objects.count()
        if is_read_between:
            assert page(client, SETTINGS).count("Set. ") == 1
        # The answer got lost: the form is sent again as it was.
        assert client.post(SETTINGS + address, form)["Location"] == SETTINGS
        assert Change.objects.count() == changes
        told = page(client, SETTINGS)
        assert (told.count("Set. "), "This was done already" in told) == (1, is_read_between)


def test_what_was_changed_meanwhile_is_shown_and_not_lost(client: Client) -> None:
    drive = DriveFactory(tag="KLN-D1", downtime_cost_per_hour="100.00")
    PositionFactory(drive=drive)
    address = f"{SETTINGS}drives/KLN-D1/"
    tag = hidden(text := page(client, address), "etag")
    assert "1 position of this drive." in text
    Drive.objects.update(downtime_cost_per_hour="150.00")
    body = {"criticality": "vital", "downtime_cost_per_hour": "900", "currency": "EUR", "etag": tag}
    answer = client.post(address, body)
    text = " ".join(answer.content.decode().split())
    assert (answer.status_code, "Cost of an hour&#x27;s stop: 150.00" in text) == (412, True)
    assert Drive.objects.get().downtime_cost_per_hour == 150
    client.post(address, body | {"etag": hidden(text, "etag")})
    assert (Drive.objects.get().criticality, Drive.objects.get().downtime_cost_per_hour) == ("vital", 900)


def test_insurance_terms_and_shop_times_are_set(client: Client) -> None:
    item = ItemFactory(stock_number="SPR-1")
    address = f"{SETTINGS}items/SPR-1/?holding_reason=insurance&then=/items/SPR-1/"
    text = page(client, address)
    assert '<option value="insurance" selected>' in text
    body = {
        "holding_reason": "insurance",
        "stocked": "on",
        "unit_cost": "12.5",
        "currency": "EUR",
        "lead_time_days": "",
    }
    answer = client.post(address, body | {"etag": hidden(text, "etag"), "then": "/items/SPR-1/"})
    assert answer["Location"] == "/items/SPR-1/"
    item = Item.objects.get()
    assert (item.holding_reason, str(item.unit_cost), item.lead_time_days) == ("insurance", "12.50", None)
    text = page(client, f"{SETTINGS}terms/")
    terms = {"holding_rate_per_year": "0.25", "order_cost": "40", "currency": "EUR", "hours_to_expedite": "",
             "planning_days": "7", "staging_days": "2", "chain_joints": "0", "worst_grade": "with_work"}  # fmt: skip
    client.post(f"{SETTINGS}terms/", terms | {"etag": hidden(text, "etag")})
    assert (StockingTerms.objects.get().staging_days, StockingTerms.objects.get().are_set) == (2, True)
    client.post(f"{SETTINGS}shop-times/bore/", {"minutes": "50", "basis": "recorded", "note": "", "key": "k"})
    assert ShopTime.objects.get().minutes == 50
    assert Change.objects.filter(record="inventory.shoptime", by_name="the manager").exists()


def test_what_may_not_be_is_refused_at_its_field_and_others_may_only_look(client: Client) -> None:
    address = f"{SETTINGS}targets/vital/"
    answer = client.post(address, {"kind": "fill_rate", "value": "1.5", "key": "k"})
    assert answer.status_code == 400
    assert '<a href="#setting-value">' in answer.content.decode()
    assert not ServiceTarget.objects.exists()
    other = signed_in("storeroom", "the storeroom")
    assert other.get(SETTINGS).status_code == 200
    assert other.get(address).status_code == other.post(address, {"value": "0.5"}).status_code == 403
    assert client.get(f"{SETTINGS}targets/none/").status_code == 404


def test_the_effect_of_a_setting_is_shown_and_nothing_is_set(client: Client) -> None:
    address = f"{SETTINGS}targets/vital/"
    body = {"kind": "fill_rate", "value": "2", "tolerable_wait_hours": "", "note": "", "effect": "1"}
    body["key"] = hidden(page(client, address), "key")
    assert b"Nothing was set" in client.post(address, body).content
    asked = client.post(address, body | {"value": "0.5"})["Location"]
    text = get_calculated(client, address + asked).content.decode()
    assert "No recommendation would have other levels." in text
    assert 'value="0.5"' in text
    assert not ServiceTarget.objects.exists()
    assert not Change.objects.exists()


def test_what_another_rule_of_approval_would_have_asked_for_is_shown(client: Client) -> None:
    position = PositionFactory(drive__equipment__area__plant__code="NORTH")
    for grade, approver in (("needs_review", ""), ("unfit", "Ines"), ("drop_in", "")):
        unit = InstallationFactory(position=position, installed_at=timezone.now(), approved_by=approver)
        RecordedVerdict.objects.create(
            installation=unit, position=position, item=unit.item, grade=grade, quote=grade
        )
        position = PositionFactory(drive=position.drive)
    address = f"{SETTINGS}plants/NORTH/"
    body = {"substitute_approval": "before_fitting", "substitute_approver": "Chief fitter", "effect": "1"}
    answer = client.post(address, body | {"etag": hidden(page(client, address), "etag")})
    text = page(client, address + answer["Location"])
    assert "2 of 3 units fitted in the last year would have needed an approval." in text
    assert "1 of them still runs and was approved by nobody." in text
    assert "Who approves: Chief fitter" in text
    assert position.drive.equipment.area.plant.substitute_approval == "not_needed"
    assert "No unit would need an approval." in page(
        client, f"{address}?substitute_approval=not_needed&effect=1"
    )
