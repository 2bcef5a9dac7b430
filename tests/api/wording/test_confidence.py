import pytest

from api.wording.confidence import KINDS, NAMES
from api.wording.sentences import sentence
from inventory.facts import fact
from inventory.interchange.thresholds import ESTIMATES
from inventory.standards.confidence import SourceKind
from inventory.standards.table_rows import table_rows
from tests.drives.place.test_unseen_facts import NEAR, judged


def test_every_estimate_and_every_kind_has_its_words():
    fields = {row["field"] for row in table_rows("plausible_errors")}

    assert set(ESTIMATES) | fields <= set(NAMES)
    assert {kind.value for kind in SourceKind} - {"seen", "computed"} == set(KINDS)


@pytest.mark.parametrize(("name", "required", "offered", "known"), NEAR)
def test_what_a_finding_turns_on_reads_as_a_sentence(name, required, offered, known):
    verdict = judged(required, offered, known)
    facts = [one for found in verdict.findings for one in found.facts if one.code == "rests_on_estimate"]

    for text in map(sentence, facts):
        assert text.startswith("This turns on the ")
        assert text.endswith("Find out, or have an engineer decide.")
        assert not {"None", "_", "{", "not recorded"} & set(text.split())


def test_the_inner_width_of_a_remembered_chain():
    known = {"value": 7.95, "low": 7.75, "high": 8.15}

    assert sentence(fact("rests_on_estimate", name="inner_width_mm", of="425", kind="memory", **known)) == (
        "This turns on the inner width of 425: 7.95 is from memory, not seen in a source, 7.75 to 8.15 is possible. "
        "Find out, or have an engineer decide."
    )
