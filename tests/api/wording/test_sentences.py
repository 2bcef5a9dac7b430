"""Every code that the product gives has a sentence, and every sentence passes through Django's translation."""

import ast
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path
from typing import TypeGuard
from unittest import mock

import pytest
from django.utils import translation
from django.utils.translation import trans_real

from api.wire.fact_codes import with_placeholders
from api.wording.figures import ShownCount, ShownNumber, ShownWord
from api.wording.record_rules import CONSTRAINTS
from api.wording.sentences import ROOMS, SENTENCES, sentence
from inventory.facts import fact
from inventory.interchange.vocabulary import Environment, HubStyle, Material
from inventory.standards.table_rows import table_rows

HOUSE = Path(__file__).resolve().parents[3]
WORDING = HOUSE / "api" / "wording"
MAKERS = {"fact", "Fact"}


def literals(node: ast.AST) -> Iterator[str]:
    """Text constants that may be the value of an expression: `"a" if one else "b"` has two."""
    if isinstance(node, ast.IfExp):
        yield from literals(node.body)
        yield from literals(node.orelse)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


def nodes_of_the_product() -> Iterator[ast.AST]:
    for app in ("inventory", "drives", "api"):
        for file in (HOUSE / app).rglob("*.py"):
            if WORDING not in file.parents:
                yield from ast.walk(ast.parse(file.read_text(encoding="utf-8")))


def is_fact(node: ast.AST) -> TypeGuard[ast.Call]:
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
        return False
    return node.func.id in MAKERS and bool(node.args)


@pytest.fixture(scope="module")
def nodes() -> list[ast.AST]:
    return [node for node in nodes_of_the_product() if isinstance(node, ast.Constant) or is_fact(node)]


def test_every_code_has_a_sentence(nodes: list[ast.AST]) -> None:
    codes = {code for node in nodes if is_fact(node) for code in literals(node.args[0])}
    assert codes
    assert sorted(codes - set(SENTENCES)) == []


def test_every_sentence_has_a_code_that_is_used(nodes: list[ast.AST]) -> None:
    texts = {node.value for node in nodes if isinstance(node, ast.Constant)}
    texts |= {row["code"] for row in table_rows("bush_interchange")} | set(CONSTRAINTS)
    assert sorted(set(SENTENCES) - texts) == []


def test_no_code_has_two_sentences() -> None:
    assert len(SENTENCES) == sum(len(room.SENTENCES) for room in ROOMS)


def test_every_sentence_is_documented_in_english() -> None:
    assert [code for code, one in SENTENCES.items() if not with_placeholders(one).strip()] == []


class MarkedCatalogue(trans_real.DjangoTranslation):
    """A language in which every text has a mark around it."""

    def gettext(self, message: str) -> str:
        return f"«{message}»"

    def ngettext(self, singular: str, plural: str, number: float) -> str:
        return f"«{singular if number == 1 else plural}»"


@pytest.fixture
def marked() -> Iterator[None]:
    with translation.override("de"), mock.patch.dict(trans_real._translations, de=MarkedCatalogue("de")):
        trans_real._active.value = trans_real._translations["de"]
        yield


def test_every_sentence_passes_through_translation(marked: None) -> None:
    assert [code for code, one in SENTENCES.items() if "«" not in with_placeholders(one)] == [
        "document",
        "key_needed",
    ]


@pytest.mark.parametrize("word", [*Material, *Environment, *(style for style in HubStyle if len(style) > 1)])
def test_every_word_of_the_vocabulary_passes_through_translation(word: StrEnum, marked: None) -> None:
    assert f"{ShownWord(word):words}".startswith("«")


def test_numbers_follow_the_separators_of_the_language() -> None:
    found = fact("roller_too_large", chain="08B", rim="08A", roller_mm=8.51, seat_max_mm=8.2699)
    sized = fact("hub_length_not_recorded", room_mm=25.4)

    assert "(8.51 mm)" in sentence(found)
    with translation.override("de"):
        assert "(8,51 mm)" in sentence(found)
        assert "8,27 mm)" in sentence(found)
        assert "1 in (25,4 mm)" in sentence(sized)


@pytest.mark.parametrize(
    ("value", "spec", "written"),
    [
        (93.44, "sig3", "93,4"),
        (0.9996, "percent", "99,96 %"),
        (0.12345, "percent4", "12,35 %"),
        (0.11, "often", "etwa einmal in 9,1 Jahren"),
        (12345.6, ",.1f", "12.345,6"),
    ],
)
def test_every_way_to_write_a_number_follows_the_separators(value: float, spec: str, written: str) -> None:
    with translation.override("de"):
        assert format(ShownNumber(value), spec) == written


def test_a_value_that_is_not_known_reads_as_not_recorded() -> None:
    assert "not recorded" in sentence(fact("same_chain", chain=None))


def test_nested_facts_are_listed() -> None:
    reasons = (fact("side_play_small", side_play_mm=0.2), fact("roller_larger_than_rim", difference_mm=0.1))

    assert (
        "only 0.20 mm are left between tooth and plates and the roller is 0.10 mm larger than the rim's"
        in sentence(fact("engages_for_a_short_time", chain="10A", rim="10B", reasons=reasons))
    )


def test_facts_that_are_equal_but_read_differently_keep_their_own_sentences() -> None:
    given = (True, 1, 1.0)
    facts = [fact("recorded_text", text=value) for value in given]
    assert facts[0] == facts[1] == facts[2]
    assert [sentence(one) for one in facts for _ in range(2)] == [
        text for text in ("True", "1", "1") for _ in range(2)
    ]


@pytest.mark.parametrize(
    ("number", "spec", "written"),
    [
        (ShownNumber(1.1349), "sig3", "1,13"),
        (ShownNumber(2021.7), "sig3", "2.020"),
        (ShownNumber(0.000018), "sig2", "0,000018"),
        (ShownNumber(2.6), "often", "etwa 2,6 mal im Jahr"),
        (ShownNumber(0.99961), "percent", "99,96 %"),
        (ShownCount(1234), "sig2", "1.200"),
    ],
)
def test_numbers_have_the_separators_of_the_reader(number, spec, written):
    with translation.override("de"):
        assert format(number, spec) == written
