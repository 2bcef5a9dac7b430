import pytest

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
