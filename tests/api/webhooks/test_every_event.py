"""Each type of event is caused by the act that causes it in a plant, and is in the feed and to a webhook as its schema says.

An act is a request where one is behind it; where it is the hour (an end that comes near, a time that is over) or the operator (a restore),
it is the command that the scheduler or the operator runs.
"""

import json
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge import schema
from api.models import Webhook
from api.webhooks.delivering import send_due
from api.webhooks.message import body_of
from api.webhooks.queueing import queue_events
from api.wire.event_types import EVENT_TYPES, TEST
from drives.models import Installation, Plant
from drives.models import SubstituteApproval as Approval
from inventory.models import Event, Reservation
from inventory.plumbing.events import sequence_events
from tests import factories as make
from tests.api.answer_schemas import validator
from tests.api.webhooks.receiver import Receiver, answers
from tests.conftest import ClientFor
from tests.drives.feed.messages import closed, day, order, place, used

LATER = timedelta(days=30)
SHELF = {"item": "SPR-A", "storeroom": "MAIN"}
POSITION = "STEEP-EL1-P1"
DELIVERED = {"teeth": 21, "strands": 1, "tooth_width_mm": 14.6}
"""What of a 16A was measured where a 16B was ordered."""


class Site:
    """A position with a unit on, five pieces beside it, and a manager and the work-order system who act there."""

    def __init__(self, client_for: ClientFor, receiver: Receiver, folder: Path) -> None:
        self.manager, self.system = client_for("manager"), client_for("integration")
        self.receiver, self.folder = receiver, folder
        self.sent = 0
        place(POSITION)

    def post(self, path: str, **body: Any) -> dict[str, Any]:
        return self.answered(self.manager, "post", path, body)

    def message(self, version: int, body: dict[str, Any]) -> dict[str, Any]:
        return self.answered(self.system, "put", "work-orders/planning/WO-1/", body)

    def answered(self, client: APIClient, method: str, path: str, body: dict[str, Any]) -> dict[str, Any]:
        self.sent += 1
        key = f"act-{self.sent}"
        found = getattr(client, method)(f"/api/v1/{path}", body, format="json", HTTP_IDEMPOTENCY_KEY=key)
        assert found.status_code < 300, (path, found.content)
        told: dict[str, Any] = found.json()
        return told

    def move(self, kind: str, quantity: int = 1, **more: Any) -> dict[str, Any]:
        return self.post("movements/", kind=kind, quantity=quantity, **SHELF, **more)

    def reserve(self, quantity: int = 1, **more: Any) -> int:
        return int(self.post("reservations/", quantity=quantity, work_order="WO-2", **SHELF | more)["id"])

    def unit(self) -> Installation:
        return Installation.objects.get(removed_at=None)

    def subscribe(self) -> Webhook:
        told = self.post("webhooks/", url=self.receiver.url(), types=["stock.moved"])
        return Webhook.objects.get(pk=told["id"])


def use_reservation(site: Site) -> None:
    site.reserve()
    site.move("issue", work_order="WO-2")


def take_what_is_reserved(site: Site) -> None:
    site.reserve(5)
    site.move("issue", work_order="WO-3", override={"reason": "the kiln is down"})


def release_reservation(site: Site) -> None:
    site.post(f"reservations/{site.reserve()}/release/")


def let_reservation_end(site: Site) -> None:
    site.reserve(expires_at=(timezone.now() + LATER).isoformat())
    Reservation.objects.update(expires_at=timezone.now() - LATER)
    call_command("expire_reservations")


def merge_with_reservation(site: Site) -> int:
    site.reserve()
    told = site.post("items/SPR-A/merge/", into="SPR-B", reason="one part under two numbers")
    return int(told["id"])


def undo_merge(site: Site) -> None:
    site.post(f"merges/{merge_with_reservation(site)}/undo/", reason="another hub")


def make_kit(site: Site) -> int:
    lines = [{"item": "SPR-A", "quantity": 1}]
    return int(site.post("kits/", work_order="WO-2", storeroom="MAIN", place="cage 4", lines=lines)["id"])


def stage_kit(site: Site) -> None:
    site.post(f"kits/{make_kit(site)}/stage/", place="cage 5")


def release_kit(site: Site) -> None:
    site.post(f"kits/{make_kit(site)}/release/")


def check_delivery(site: Site) -> int:
    part = make.SprocketFactory(chain_designation="16B", teeth=21, bore_type="plain", bore_mm=20)
    ordered = make.ItemFactory(stock_number="SPR-16B", specification=part)
    make.SupplyOrderFactory(item=ordered, external_id="PO-1", quantity=5)
    named = {"source": "purchasing", "external_id": "PO-1"}
    return int(site.post("delivery-checks/", quantity=5, delivered=DELIVERED, **named)["id"])


def settle_delivery(site: Site) -> None:
    site.post(f"delivery-checks/{check_delivery(site)}/release/", reason="measured again", quantity=2)


def bring_back_misfit(site: Site) -> None:
    site.move("issue", work_order="WO-2")
    site.move("return", reason_code="did_not_fit", position=POSITION, work_order="WO-2")


def answer_fit_question(site: Site) -> None:
    bring_back_misfit(site)
    (question,) = site.manager.get("/api/v1/fit-questions/").json()["results"]
    site.post(f"fit-questions/{question['id']}/answer/", answer="the shaft has 24 mm")


def approve_substitute(site: Site) -> None:
    until = (timezone.now() + LATER).date().isoformat()
    site.post(f"installations/{site.unit().pk}/approvals/", approved_by="Ines Okafor", until_on=until)


def fit_without_approval(site: Site) -> None:
    Plant.objects.update(substitute_approval=Approval.MAY_FOLLOW)
    other = make.SprocketFactory(hub_style="A", hub_diameter_mm=None)
    make.ItemFactory(stock_number="SPR-OTHER", specification=other)
    remove_unit(site)
    now = timezone.now().isoformat()
    why = {"installed_why": "nothing else was at hand"}
    site.post("installations/", position=POSITION, item="SPR-OTHER", installed_at=now, **why)


def come_near_the_end(site: Site, days: int = 2) -> None:
    approve_substitute(site)
    day_of_end = (timezone.now() + timedelta(days=days)).date()
    Installation.objects.filter(removed_at=None).update(temporary_until=day_of_end)
    call_command("watch_substitutes")


def outlive_the_end(site: Site) -> None:
    come_near_the_end(site, days=-2)


def give_rule(site: Site) -> int:
    body = {"kind": "never", "item": "SPR-B", "position": POSITION, "given_by": "Ines Okafor"}
    return int(site.post("substitution-rules/", reason="the guard was changed", **body)["id"])


def withdraw_rule(site: Site) -> None:
    site.post(f"substitution-rules/{give_rule(site)}/withdraw/", reason="the guard was changed back")


def take_in_order(site: Site) -> None:
    site.message(1, order(1))


def fall_short(site: Site) -> None:
    site.message(1, order(1, parts_needed=[{"item": "SPR-A", "quantity": 5}]))
    call_command("watch_jobs")
    site.move("issue", work_order="WO-3")
    call_command("watch_jobs")


def become_ready(site: Site) -> None:
    fall_short(site)
    site.move("receipt")
    call_command("watch_jobs")


def close_order(site: Site) -> None:
    site.message(3, closed(3, day(700), [used()]))


def cancel_order(site: Site) -> None:
    close_order(site)
    site.message(5, order(5, status="cancelled"))


def remove_unit(site: Site) -> None:
    now = timezone.now().isoformat()
    site.post(f"installations/{site.unit().pk}/remove/", removed_at=now, ended_by="preventive")


def withdraw_unit(site: Site) -> None:
    site.post(f"installations/{site.unit().pk}/never-fitted/", reason="it lay in the cabinet")


def name_unknown_part(site: Site) -> None:
    site.message(3, closed(3, day(700), [used("SPR-X")]))


def discard_message(site: Site) -> None:
    name_unknown_part(site)
    (waiting,) = site.manager.get("/api/v1/inbound-messages/?outcome=waiting").json()["results"]
    site.post(f"inbound-messages/{waiting['id']}/discard/", reason="typed twice")


def ask_for_test(site: Site) -> None:
    site.post(f"webhooks/{site.subscribe().pk}/test/")


def answer_gone(site: Site) -> None:
    site.receiver.script.append(answers(410))
    webhook = site.subscribe()
    site.move("receipt")
    sequence_events()
    queue_events()
    send_due(webhook.pk)


def restore_backup(site: Site) -> None:
    archive = str(site.folder / "plant.zip")
    call_command("backup", archive)
    call_command("restore", archive, "--yes")


ACTS: dict[str, Callable[[Site], Any]] = {
    "stock.moved": lambda site: site.move("receipt"),
    "reservation.made": Site.reserve,
    "reservation.used": use_reservation,
    "reservation.short": take_what_is_reserved,
    "reservation.released": release_reservation,
    "reservation.expired": let_reservation_end,
    "reservation.renumbered": merge_with_reservation,
    "kit.made": make_kit,
    "kit.staged": stage_kit,
    "kit.released": release_kit,
    "delivery.checked": check_delivery,
    "delivery.settled": settle_delivery,
    "fit_question.opened": bring_back_misfit,
    "fit_question.answered": answer_fit_question,
    "substitution.approved": approve_substitute,
    "substitution.awaits_approval": fit_without_approval,
    "substitution.expiring": come_near_the_end,
    "substitution.overdue": outlive_the_end,
    "substitution_rule.given": give_rule,
    "substitution_rule.withdrawn": withdraw_rule,
    "work_order.changed": take_in_order,
    "work_order.short": fall_short,
    "work_order.ready": become_ready,
    "installation.begun": fit_without_approval,
    "installation.ended": remove_unit,
    "installation.restored": cancel_order,
    "installation.withdrawn": withdraw_unit,
    "message.waiting": name_unknown_part,
    "message.discarded": discard_message,
    "item.merged": merge_with_reservation,
    "item.merge_undone": undo_merge,
    "service.restored": restore_backup,
    "webhook.disabled": answer_gone,
    TEST: ask_for_test,
}


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return schema.document()


@pytest.fixture
def site(client_for: ClientFor, receiver: Receiver, tmp_path: Path) -> Site:
    return Site(client_for, receiver, tmp_path)


def test_each_type_has_its_act() -> None:
    """A new type is not there before the act that causes it is tried here."""
    assert list(ACTS) == list(EVENT_TYPES)


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(ACTS.keys() - {"service.restored"}))
def test_its_act_tells_of_it_as_its_schema_says(name: str, site: Site, document: dict[str, Any]) -> None:
    assert_told(name, site, document)


@pytest.mark.django_db(transaction=True)
def test_a_restore_tells_of_itself_as_its_schema_says(site: Site, document: dict[str, Any]) -> None:
    assert_told("service.restored", site, document)


def assert_told(name: str, site: Site, document: dict[str, Any]) -> None:
    ACTS[name](site)
    found = site.manager.get("/api/v1/events/?limit=500").json()["results"]
    kinds = {event["type"] for event in found}
    assert (name in kinds) == (name != TEST)
    for event in found:
        held(document, event, "Event")
    for row in Event.objects.all():
        held(document, json.loads(body_of(row)), "Message")
    assert Event.objects.filter(type=name).exists()


def held(document: dict[str, Any], told: dict[str, Any], form: str) -> None:
    """Against the one schema of its type; members that it does not name are found by nobody who reads it, so none is there."""
    parts = document["components"]["schemas"]
    address = f"{EVENT_TYPES[told['type']].component}{form}"
    validator(document, {"$ref": f"#/components/schemas/{address}"}).validate(told)
    assert set(told) == set(parts[address]["properties"])
    assert set(told["data"]) == set(parts[f"{EVENT_TYPES[told['type']].component}Data"]["properties"])
