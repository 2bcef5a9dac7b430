import json

from api.wire.recorded_checks import RecordedChecksField, RecordedVerdictField
from inventory.facts import fact
from inventory.interchange.verdict import judge
from tests.inventory.interchange.samples import chain, part, place

STORED = {
    "aspect": "teeth",
    "outcome": "review",
    "facts": [
        fact("idler_teeth_few", teeth=13, least_teeth=17).as_json(),
        fact("room_copied_from_old_part").as_json(),
    ],
}
BEFORE_FACTS = {"aspect": "hub", "outcome": "work", "explanation": "Type C for type B: turn one hub off."}


def test_stored_facts_are_shown_with_their_sentence():
    (shown,) = RecordedChecksField().to_representation([STORED])

    assert (shown["aspect"], shown["code"], shown["values"]) == (
        "teeth",
        "idler_teeth_few",
        {"teeth": 13, "least_teeth": 17},
    )
    assert [one["code"] for one in shown["further"]] == ["room_copied_from_old_part"]
    assert shown["explanation"].startswith("13 teeth on an idler")
    assert "facts" not in shown


def test_what_was_stored_as_text_stays_as_it_is():
    rows = [BEFORE_FACTS, "hub 4 mm longer"]

    assert RecordedChecksField().to_representation(rows) == rows


def test_a_verdict_shows_its_checks_so_and_an_empty_one_nothing():
    field = RecordedVerdictField()

    assert field.to_representation({}) == {}
    shown = field.to_representation({"grade": "needs_review", "checks": [STORED, BEFORE_FACTS]})
    assert [check["aspect"] for check in shown["checks"]] == ["teeth", "hub"]


def test_nested_facts_survive_being_stored():
    (check, *_) = judge(place(chain=chain("10A")), part(chain=chain("10B"))).checks
    stored = json.loads(json.dumps({"aspect": "chain", "facts": [one.as_json() for one in check.facts]}))
    (shown,) = RecordedChecksField().to_representation([stored])

    assert shown["values"]["reasons"][0]["code"] == "side_play_small"
    assert "only 0.23 mm are left" in shown["explanation"]
