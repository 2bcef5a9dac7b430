import pytest

from inventory.descriptions.letters import folded
from inventory.descriptions.lexicon import lexicon_rows, unglued, without_slip

LANGUAGES = {"en", "de", "fr", "es", "it"}


@pytest.mark.parametrize("table", ["words", "grades", "pitch_by_width"])
def test_every_row_names_where_it_comes_from(table: str) -> None:
    assert {row["source"] for row in lexicon_rows(table)} <= {"GLOSSARY", "TRADE"}


def test_every_language_has_words_for_what_a_line_says() -> None:
    topics = (
        "part",
        "teeth",
        "bore",
        "key",
        "set_screw",
        "tapered",
        "hardened",
        "material",
        "hub_style",
        "idler",
    )

    for topic in topics:
        found = {one for row in lexicon_rows() if row["topic"] == topic for one in row["language"].split()}
        assert found >= LANGUAGES, topic


@pytest.mark.parametrize(
    ("typed", "known"),
    [
        ("SPROKCET", "SPROCKET"),
        ("SPROOCKET", "SPROCKET"),
        ("BOHRNUG", "BOHRUNG"),
        ("TEMPRATTO", "TEMPRATO"),
        ("PLANT", "PLANT"),
        ("HUBB", "HUBB"),
    ],
)
def test_a_slip_of_one_letter_in_a_long_word(typed: str, known: str) -> None:
    assert without_slip(typed) == known


def test_glued_words_are_divided() -> None:
    assert unglued("KETTENRADGEHARTET") == ("KETTENRAD", "GEHARTET")
    assert unglued("KETTENXYZ") == ()


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("Zähne Ø25 ×", "ZAHNE Ø25 X"),
        ("o8b-1 2ot", "08B-1 20T"),
        ("1½’’", '1½" '),
        ("HUB 75 OD", "HUB 75 OD"),
        ("2OFF", "2OFF"),
    ],
)
def test_folding_keeps_every_position(typed: str, plain: str) -> None:
    assert folded(typed) == plain
    assert len(folded(typed)) == len(typed)
