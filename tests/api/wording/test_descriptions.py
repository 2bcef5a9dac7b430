import ast
from pathlib import Path

import pytest

import api.answers.descriptions
import inventory.descriptions
from api.wording.descriptions import PARTS, SENTENCES
from api.wording.sentences import sentence
from inventory.descriptions.reader import read_description
from inventory.facts import fact
from tests.inventory.descriptions.cases import rows

CASES = [
    ("CHAIN WHEEL 1/2 X 5/16 25T", "“1/2 X 5/16” fits several chains: 08B and 40. Which one is meant?"),
    ("SPKT 60B20 SS", "“SS” has two meanings in storeroom text. Which one is meant?"),
    ("SPROCKET 08B-1 17T BORE 25", "“25” has no unit: is it in mm, or in inches?"),
    ("TAPER BUSH 2012 X 35", "The line names a bush, not a sprocket."),
    ("XYZ 123", "The line does not name a sprocket."),
    ("SPROCKET SET 40B15 & 40B30", "The line names several parts: split the record."),
    ("SPROCKET 08B-1 17T 93", "Not understood: 93. What does it mean?"),
    ("SPROCKET C2040 20T", "Double pitch: are 20 the effective teeth, or the actual ones?"),
    ("SPROCKET 60 5T", "5 teeth: a sprocket has 6 to 400. Count them."),
    (
        "SPKT D60B20 SIMPLEX",
        "“SIMPLEX” and “D60B20” contradict each other (number of strands). Which one is right?",
    ),
    ("SPKT 40/08B 17T", "40 and 08B are different chains. Which one is meant?"),
    (
        "SPROCKET 12B-1 25T BUSH 2012 BORE 75MM",
        "Bush 2012 has no bore of 75 mm. Is the size or the bore wrong?",
    ),
]


def codes_asked() -> set[str]:
    """Codes in `line.ask(...)` and `fact(...)` of the reader and of what answers with it."""
    found = set()
    room = Path(inventory.descriptions.__path__[0])
    for file in (
        *room.glob("*.py"),
        room.parent / "catalogue" / "described_items.py",
        Path(api.answers.descriptions.__file__),
    ):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
                name = (
                    node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                )
                if name in ("ask", "fact"):
                    found.add(node.args[0].value)
    return found


def test_every_question_of_the_reader_has_a_sentence_and_every_sentence_its_question() -> None:
    assert codes_asked() == set(SENTENCES)


@pytest.mark.parametrize(("line", "text"), CASES)
def test_a_question_reads_as_a_sentence(line: str, text: str) -> None:
    assert text in [sentence(question) for question in read_description(line).questions]


def test_every_question_about_real_lines_can_be_shown() -> None:
    lines = [row["text"] for name in ("stated_descriptions", "hard_lines") for row in rows(name)]
    questions = [question for line in lines for question in read_description(line).questions]

    assert len(questions) > 100
    assert all(sentence(question).endswith((".", "?")) for question in questions)


@pytest.mark.parametrize("part", [*PARTS, "other"])
def test_every_part_has_its_words(part: str) -> None:
    assert sentence(fact("which_part_is_it", part=part)).startswith("Is it a sprocket, or a")


def test_a_pitch_outside_the_table_is_said_so() -> None:
    question = fact("which_chain_is_meant", candidates=(), text="P=30 MM")

    assert sentence(question) == "“P=30 MM” is the pitch of no chain in the table. Which chain is meant?"
