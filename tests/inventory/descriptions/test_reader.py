import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.descriptions.reader import read_description
from tests.inventory.descriptions.cases import rows

TEXTS = [row["text"] for name in ("stated_descriptions", "hard_lines") for row in rows(name)]


@pytest.mark.parametrize("text", TEXTS)
def test_the_text_of_an_attribute_is_the_exact_piece_of_the_line(text: str) -> None:
    reading = read_description(text)

    for attribute in reading.attributes.values():
        if attribute.span is None:
            assert (attribute.text, attribute.basis) == ("", "assumed")
        else:
            assert attribute.text == text[slice(*attribute.span)]
            assert attribute.text.strip() == attribute.text != ""
    for piece in reading.unread:
        assert piece.text == text[slice(*piece.span)]


def test_case_and_accents_do_not_matter() -> None:
    first = read_description("Kettenrad 08B-1, 17 Zähne, Bohrung Ø25 H7, gehärtet")
    second = read_description("KETTENRAD 08b-1, 17 ZAEHNE, BOHRUNG Ø25 H7, GEHAERTET")

    assert first.outcome == second.outcome == "parsed"
    assert {name: one.value for name, one in first.attributes.items()} == {
        name: one.value for name, one in second.attributes.items()
    }


def test_letters_with_separate_accents_are_read_and_quoted_as_they_were_typed() -> None:
    text = unicodedata.normalize("NFD", "Kettenrad 08B-1, 17 Zähne, gehärtet")
    reading = read_description(text)

    assert (reading.outcome, reading.attributes["teeth"].value) == ("parsed", 17)
    hardened = reading.attributes["hardened_teeth"]
    assert hardened.span is not None
    assert hardened.text == text[slice(*hardened.span)] == unicodedata.normalize("NFD", "gehärtet")


def test_the_basis_tells_a_stated_strand_from_an_implied_and_an_assumed_one() -> None:
    bases = [
        read_description(text).attributes["strands"].basis
        for text in ("SPKT 60-1 20T", "SPKT 60B20", "SPKT #60 20T")
    ]

    assert bases == ["stated", "implied", "assumed"]


def test_a_slip_of_one_letter_is_read_with_less_confidence() -> None:
    right = read_description("SPROCKET 08B-1 17T HARDENED").attributes["hardened_teeth"]
    slip = read_description("SPROCKET 08B-1 17T HARDENDE").attributes["hardened_teeth"]

    assert (right.value, slip.value, slip.text) == (True, True, "HARDENDE")
    assert slip.confidence < right.confidence


def test_codes_and_numbers_are_never_corrected() -> None:
    reading = read_description("SPROCKET 60B2I 17 TEETH")

    assert "teeth" not in reading.attributes or reading.outcome != "parsed"


def test_a_question_about_pitch_and_width_names_the_chains() -> None:
    (question,) = read_description("CHAIN WHEEL 1/2 X 5/16 25T DUPLEX").questions

    assert (question.code, question.values["candidates"]) == ("which_chain_is_meant", ("08B", "40"))


def test_a_rejected_line_names_the_part() -> None:
    (reason,) = read_description("TAPER BUSH 2012 X 35").questions

    assert (reason.code, reason.values) == ("not_a_sprocket", {"part": "bush"})


def test_a_bore_beyond_the_teeth_is_asked_about() -> None:
    # Pitch diameter of 12 teeth, 12.7 mm: 12.7 / sin(15°) = 49.07 mm (ASME B29.1); less the roller of 8.51 mm.
    (question,) = read_description("SPROCKET 08B-1 12T BORE 45MM").questions

    assert question.code == "bore_beyond_teeth"
    assert question.values["root_mm"] == pytest.approx(40.56, abs=0.01)


def test_an_unknown_word_is_listed_and_an_unknown_number_is_asked_about() -> None:
    word = read_description("SPROCKET 08B-1 17T GRANARY")
    number = read_description("SPROCKET 08B-1 17T 93")

    assert (word.outcome, [piece.text for piece in word.unread]) == ("parsed", ["GRANARY"])
    assert (number.outcome, [piece.text for piece in number.unread]) == ("needs_review", ["93"])


@given(st.text(max_size=60))
def test_reading_never_fails(text: str) -> None:
    assert read_description(text).outcome in ("parsed", "needs_review", "rejected")


WORDS = [word for text in TEXTS for word in text.split()]


@given(st.lists(st.sampled_from(WORDS), max_size=12), st.sampled_from(["", " ", ", ", "-", "/", " X "]))
def test_pieces_of_real_lines_in_any_order_never_fail(words: list[str], separator: str) -> None:
    reading = read_description(separator.join(words))

    assert reading.outcome == "parsed" or reading.questions
