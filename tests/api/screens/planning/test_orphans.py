"""Small plants counted by hand: what nothing asks for, what is kept, what nothing serves, and donors."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from drives.models import Cover
from tests.drives.assortment.test_variety import item, own, position
from tests.factories import (
    AdminFactory,
    AreaFactory,
    DriveFactory,
    EquipmentFactory,
    InstallationFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    StoreroomFactory,
    stock,
)
from tests.jobs import forget_answers, get_calculated

pytestmark = pytest.mark.django_db


def orphans(client, which="orphans"):
    forget_answers()
    answer = get_calculated(client, f"/api/v1/assortment/{which}/")
    assert answer.status_code == 200, answer.content
    return {one["item"]: one for one in answer.json()["results"]}


def holes(client):
    forget_answers()
    answer = get_calculated(client, "/api/v1/assortment/holes/")
    return {one["position"]: one for one in answer.json()["results"]}


def home(place):
    return place.drive.equipment.area.plant.storeroom


def shelved(room, pieces=1, **values):
    found = ItemFactory(unit_cost=40, currency="EUR", **values)
    stock(found, room, pieces)
    return found


def test_what_no_position_asks_for_is_run_down_and_what_others_use_is_offered(as_viewer):
    place = PositionFactory()
    here, away = home(place), StoreroomFactory(code="AWAY")
    used, loose, elsewhere, bare = shelved(here), shelved(here, 3), shelved(away), shelved(here)
    for one in (used, elsewhere):
        Cover.objects.create(position=place, item=one, grade="with_work")
    bare.specification.chain_designation, bare.specification.pitch_mm = "", None
    bare.specification.save()
    found = orphans(as_viewer)
    assert used.stock_number not in found
    assert {name: (one["advice"], one["positions_elsewhere"]) for name, one in found.items()} == {
        loose.stock_number: ("run_down", 0),
        elsewhere.stock_number: ("offer", 1),
        bare.stock_number: ("describe", 0),
    }
    assert (found[loose.stock_number]["pieces"], found[loose.stock_number]["value"]) == (3, "120.00")
    loose.lifecycle = "blocked"
    loose.save()
    assert orphans(as_viewer)[loose.stock_number]["advice"] == "use_up"


def test_the_only_cover_of_a_vital_position_stands_still_and_is_kept(as_viewer):
    only = item(1480)
    place = position(own(only), criticality="vital")
    found = orphans(as_viewer, "insurance")[only.stock_number]
    assert only.stock_number not in orphans(as_viewer)
    assert (found["advice"], found["positions"], found["last_issued_on"]) == ("keep", [place.tag], None)
    other = item(20)
    Cover.objects.create(position=place, item=other, grade="drop_in")
    assert orphans(as_viewer, "insurance") == {}


def test_a_position_that_no_shelf_serves_is_a_hole_with_donors_from_idle_machines(as_viewer):
    part = item(50, pieces=0)
    place = position(own(part), criticality="vital")
    yesterday = timezone.localdate() - timedelta(days=1)
    gone = position(own(part), in_use_until=yesterday)
    standby = PositionFactory(drive=DriveFactory(equipment=EquipmentFactory(tag="STAND-BY", standby=True)))
    InstallationFactory(position=standby, item=part)
    hoist = position(own(part), lifting=True, in_use_until=yesterday)
    running = position(own(part))
    found = holes(as_viewer)
    assert found[place.tag]["in_catalogue"] == 1
    assert {one["position"]: one["is_standby"] for one in found[place.tag]["donors"]} == {
        gone.tag: False,
        standby.tag: True,
    }
    assert gone.tag not in found
    assert next(iter(found)) == place.tag
    assert hoist.tag not in str(found)
    assert running.tag not in str(found[place.tag]["donors"])
    stock(part, StoreroomFactory(code="AWAY"), 1)
    assert place.tag not in holes(as_viewer)


def test_a_lifting_drive_gets_no_donor(as_viewer):
    part = item(50, pieces=0)
    hoist = position(own(part), lifting=True)
    position(own(part), in_use_until=timezone.localdate() - timedelta(days=1))
    assert holes(as_viewer)[hoist.tag]["donors"] == []


def test_the_page_shows_both_lists_and_runs_an_orphan_down():
    place = PositionFactory()
    loose = shelved(home(place))
    missing = item(50, pieces=0)
    hole = position(own(missing))
    donor = position(own(missing), in_use_until=timezone.localdate() - timedelta(days=1))
    chief = Client()
    chief.force_login(AdminFactory())
    text = " ".join(get_calculated(chief, "/planning/orphans/").content.decode().split())
    assert "Run down: no position in use asks for it." in text
    assert loose.stock_number in text
    assert chief.get("/planning/orphans/?show=insurance").status_code == 200
    text = " ".join(chief.get("/planning/orphans/?show=holes").content.decode().split())
    assert hole.tag in text
    assert donor.tag in text
    assert "its drive then stands" in text
    sent = chief.post("/planning/variety/", {"item": loose.pk, "reason": "Nothing asks for it."})
    assert sent.status_code == 302
    loose.refresh_from_db()
    assert loose.lifecycle == "run_down"


def test_pages_follow_one_another(as_viewer):
    place = PositionFactory(
        drive=DriveFactory(equipment=EquipmentFactory(area=AreaFactory(plant=PlantFactory())))
    )
    Cover.objects.create(position=place, item=item(5), grade="drop_in")
    for _ in range(3):
        shelved(home(place))
    first = get_calculated(as_viewer, "/api/v1/assortment/orphans/", {"limit": 2}).json()
    rest = as_viewer.get(first["next"]).json()
    assert first["count"] == 3 == len(first["results"]) + len(rest["results"])
    assert rest["next"] is None
