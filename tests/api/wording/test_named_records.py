import pytest
from django.utils.translation import override

from api.wording.sentences import sentence
from inventory.facts import fact


@pytest.mark.parametrize(
    ("kind", "name", "words"),
    [
        ("position", "STEEP-EL1-P9", "There is no position 'STEEP-EL1-P9'."),
        ("specification", 7, "There is no specification '7'."),
    ],
)
def test_a_record_that_is_not_there_is_named(kind: str, name: object, words: str) -> None:
    assert sentence(fact("no_such_record", kind=kind, name=name)) == words


@pytest.mark.parametrize(
    ("code", "values", "words"),
    [
        ("no_such_bin", {"storeroom": "MAIN", "bin": "Z-99"}, 'Storeroom MAIN has no bin "Z-99".'),
        (
            "movement_needs_member",
            {"kind": "transfer", "member": "to_storeroom"},
            "A movement of kind transfer needs to_storeroom.",
        ),
        (
            "member_not_of_movement",
            {"kind": "issue", "member": "counted"},
            "counted does not belong to a movement of kind issue.",
        ),
        (
            "return_is_put_on_hold",
            {"reason_code": "defective"},
            "What comes back as defective is put on hold first: leave condition out.",
        ),
    ],
)
def test_a_movement_says_what_it_needs(code: str, values: dict[str, object], words: str) -> None:
    assert sentence(fact(code, **values)) == words


@pytest.mark.parametrize(
    ("code", "values", "english", "german"),
    [
        (
            "movement_needs_member",
            {"kind": "issue", "member": "item"},
            "A movement of kind issue needs item.",
            "Eine Bewegung der Art Ausgabe braucht item.",
        ),
        (
            "return_is_put_on_hold",
            {"reason_code": "did_not_fit"},
            "What comes back as did not fit is put on hold first: leave condition out.",
            "Was als passte nicht zurückkommt, wird zuerst zurückgehalten: lassen Sie condition weg.",
        ),
        (
            "condition_not_reservable",
            {"allowed": ("new", "used_serviceable")},
            "Only stock in one of these conditions can be reserved: new and used, serviceable.",
            "Nur Bestand in einem dieser Zustände kann reserviert werden: neu und gebraucht, brauchbar.",
        ),
        (
            "end_without_reason",
            {"allowed": ("limit_reached", "opportunity")},
            "Say how it ended: one of worn to the limit and replaced with its mate.",
            "Sagen Sie, wie es endete: eines von bis zur Grenze verschlissen und mit dem Gegenrad gewechselt.",
        ),
        (
            "issued_although_not_filled",
            {"result": "not_stocked"},
            "Not stocked says that nothing was issued: leave issued_item out, or correct the result.",
            "Nicht geführt sagt, dass nichts ausgegeben wurde: lassen Sie issued_item weg, oder berichtigen Sie das Ergebnis.",
        ),
        (
            "measure_attribute_not_recorded",
            {"attribute": "bush_size"},
            "Measure the bush size of the part: it is not recorded.",
            "Messen Sie Größe der Buchse des Teils: nicht erfasst.",
        ),
        (
            "omitted_settled",
            {"word": "retracted", "count": 2},
            "Not in the list any more, so retracted: 2.",
            "Nicht mehr in der Liste, deshalb zurückgezogen: 2.",
        ),
        (
            "import_refused",
            {"kind": "opening-hours"},
            "opening hours: the file was refused, nothing was written.",
            "Öffnungszeiten: die Datei wurde abgelehnt, nichts wurde geschrieben.",
        ),
        (
            "record_to_refer_to_missing",
            {"kind": "machine shop", "name": "OM-SHOP", "place": None, "suggestion": None},
            "There is no machine shop 'OM-SHOP': import or correct it first.",
            "Es gibt keinen Eintrag Werkstatt „OM-SHOP“: importieren oder berichtigen Sie ihn zuerst.",
        ),
    ],
)
def test_a_refusal_says_the_word_of_a_code(
    code: str, values: dict[str, object], english: str, german: str
) -> None:
    refused = fact(code, **values)
    assert sentence(refused) == english
    with override("de"):
        assert sentence(refused) == german
    assert dict(refused.values) == values
