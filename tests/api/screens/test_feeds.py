"""What a system that cannot be changed means, said on a page with one of its messages."""

import json
from typing import Any

import pytest
from django.contrib.auth.models import User

from api.edge.scope import limit_to
from api.models import SourceAnswer
from drives.models import InboundMessage, WorkOrder
from tests.api.records import API
from tests.factories import MORNING, PlantFactory, PositionFactory
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
JOB = {"no": "J-1", "changed": 1_793_520_000_000, "type": "REP", "what": "Kette gerissen"}
MESSAGE = json.dumps({"data": {"jobs": [{"job": JOB, "place": {"tag": "P-1"}}]}})
FIELDS = {
    "job.no": "external_id",
    "job.changed": "updated_at",
    "job.type": "kind",
    "job.what": "title",
    "place.tag": "position",
}


def test_who_sees_one_plant_neither_says_what_a_source_means_nor_reads_its_messages() -> None:
    waiting = InboundMessage.objects.create(
        kind="work_order", source="west", external_id="J-77", version_at=MORNING, body={}, outcome="waiting"
    )
    one, all_plants = signed_in("manager", "one"), signed_in("manager", "all")
    limit_to({"user": User.objects.get(username="one")}, [PlantFactory()], [])
    assert one.get("/feeds/").status_code == 403
    assert waiting.external_id in all_plants.get("/").content.decode()
    assert waiting.external_id not in one.get("/").content.decode()


def test_a_message_that_is_too_long_is_refused_whole() -> None:
    form = {"source": "west", "kind": "work-orders", "message": "[" + "1," * 100_001, "try": "1"}
    answer = signed_in("manager", "chief").post("/feeds/", form)
    assert answer.status_code == 400
    assert "at most 200000 letters" in answer.content.decode()


def test_a_pasted_message_says_what_would_be_read_and_its_answers_are_remembered(as_integration: Any) -> None:
    PositionFactory(tag="P-1")
    chief = signed_in("manager", "chief")
    form = {"source": "west", "kind": "work-orders", "message": MESSAGE, "try": "1"}
    shown = chief.post("/feeds/", form).content.decode()
    assert 'value="data.jobs"' in shown
    form |= {f"heading 1 {name}": column for name, column in FIELDS.items()}
    assert "what does &#x27;REP&#x27; mean" in chief.post("/feeds/", form).content.decode()
    form |= {"answer 1 word:kind:REP": "corrective"}
    shown = chief.post("/feeds/", form).content.decode()
    assert "<td>J-1</td>" in shown
    assert "<strong>created</strong>" in shown
    assert '<input type="hidden" name="answer 1 word:kind:REP" value="corrective">' in shown
    assert not SourceAnswer.objects.exists()
    assert not WorkOrder.objects.exists()

    del form["try"]
    assert "Remembered." in chief.post("/feeds/", form | {"remember": "1"}).content.decode()
    sent = as_integration.post(f"{API}feeds/west/work-orders/", MESSAGE, content_type="application/json")
    assert sent.json()["counts"] == {"created": 1}
    assert WorkOrder.objects.get().kind == "corrective"
    page = chief.get("/feeds/?source=west&kind=work-orders").content.decode()
    assert "/api/v1/feeds/west/work-orders/" in page
    assert InboundMessage.objects.get().external_id in page


def test_fields_may_be_answered_at_their_questions_and_left_open_in_the_list(as_integration: Any) -> None:
    PositionFactory(tag="P-1")
    chief = signed_in("manager", "chief")
    form = {"source": "west", "kind": "work-orders", "message": MESSAGE, "rows_at": "data.jobs"}
    # As the page shows them first: a question for each field that is not clear, and a "?" in its row.
    asked = {name: column for name, column in FIELDS.items() if name not in ("job.no", "job.what")}
    form |= {f"answer 1 heading:{name}": column for name, column in asked.items()}
    form |= {f"heading 1 {name}": "?" for name in asked}
    form |= {"heading 1 job.no": "external_id", "heading 1 job.what": "title"}
    answer = chief.post("/feeds/", form | {"remember": "1"})
    assert (answer.status_code, answer.context["trial"].fault) == (200, "")
    sent = as_integration.post(f"{API}feeds/west/work-orders/", MESSAGE, content_type="application/json")
    assert sent.json()["counts"] == {"created": 1}


def test_what_cannot_be_read_is_said_and_only_a_manager_looks() -> None:
    chief = signed_in("manager", "chief")
    empty = chief.post("/feeds/", {"source": "west"})
    assert (empty.status_code, "paste a message" in empty.content.decode()) == (400, True)
    wrong = {"source": "west", "kind": "work-orders", "message": "{}", "rows_at": "jobs"}
    assert "There are no records at &#x27;jobs&#x27;" in chief.post("/feeds/", wrong).content.decode()
    assert signed_in("storeroom").get("/feeds/").status_code == 403
