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
