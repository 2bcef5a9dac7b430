import pytest

from api.wording.sentences import sentence
from inventory.facts import fact


@pytest.mark.parametrize(
    ("note", "text"),
    [
        (
            fact("teeth_outside_standard", teeth=8.0, least_teeth=9, most_teeth=150),
            "8 teeth: ISO/R 606 states the tooth form for 9 to 150 teeth only.",
        ),
        (
            fact("rim_of_chain_not_in_print", chain="C232A"),
            "The roller or inner width of chain C232A was not seen in print.",
        ),
        (
            fact("rim_width_unsettled", chain="64B", error_mm=1.0),
            "The sources disagree on the tooth width of a rim for 64B, by up to 1 mm: measure it.",
        ),
        (fact("chain_has_one_strand", chain="085"), "Chain 085 is made in one strand only."),
    ],
)
def test_a_note_reads_as_a_sentence(note, text):
    assert sentence(note) == text


@pytest.mark.parametrize(
    ("code", "what_to_do"),
    [
        ("plate_height_not_in_print", "check the hub against the chain"),
        ("transverse_pitch_not_in_print", "measure the width over the strands"),
        ("transverse_pitch_not_known", "not calculated"),
        ("tip_diameter_from_base_pitch", "no table seen"),
    ],
)
def test_a_doubtful_dimension_says_what_to_do(code, what_to_do):
    assert what_to_do in sentence(fact(code))
