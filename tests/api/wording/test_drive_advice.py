import pytest

from api.wording import drive_advice
from api.wording.sentences import sentence
from drives.chain.calculate import calculate
from drives.chain.drive_input import DriveInput
from inventory.facts import fact
from inventory.standards.chains import find_chain

SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5"
ADVICE = [
    (
        fact("tips_overlap", minimum_centre_mm=111.33),
        "The tips of the teeth overlap: the centres must be more than 111.3 mm apart (ISO 606, largest tip diameters).",
    ),
    (
        fact("no_power_at_this_speed", source=SHIGLEY),
        f"No power can be carried at this speed, because the joints would gall ({SHIGLEY}).",
    ),
    (
        fact("chain_overloaded", design_power_kw=5.0, rated_power_kw=3.7136, source=SHIGLEY),
        f"The chain is overloaded: 5 kW design power, 3.71 kW rated ({SHIGLEY}).",
    ),
    (
        fact("speed_beyond_galling", speed_rpm=300.0, limit_rpm=260.7),
        f"300 rev/min is beyond the galling limit of 261 rev/min at this pull: ask the maker ({SHIGLEY}).",
    ),
    (
        fact("lubrication_ask_maker", source="Shigley, 9th ed., table 17-20"),
        "Lubrication class C prime: the chain runs in the galling region, ask the maker (Shigley, 9th ed., table 17-20).",
    ),
    (
        fact("lubrication_not_given", needed="B", confidence="found"),
        "The rating assumes lubrication of class B, oil bath or slinger disc; the lubrication of this drive is not given "
        "(ACA lubrication classes; found).",
    ),
    (
        fact("lubrication_not_enough", given="A", needed="C", confidence="found"),
        "Lubrication of class A is not enough: class C, oil stream from a pump, is needed (ACA lubrication classes; found).",
    ),
    (
        fact("lubrication_not_checked", chain="208A"),
        "The lubrication was not checked: no published speed limits of the lubrication classes cover chain 208A.",
    ),
    (
        fact("wrap_too_small", wrap_deg=117.4, least_deg=120.0),
        "The chain wraps 117 degrees of the small sprocket; it should be at least 120 (course texts on chain drives).",
    ),
    (
        fact("ratio_too_large", ratio=7.0588, largest_ratio=6.0),
        f"The ratio of 7.06 is above 6: it costs chain life ({SHIGLEY}).",
    ),
    (
        fact("few_teeth", teeth=13.0, least_teeth=17),
        f"13 teeth are few unless the drive is very slow: 17 at least, 19 or 21 run longer and quieter ({SHIGLEY}).",
    ),
    (
        fact("many_teeth", teeth=130.0, most_teeth=120),
        f"130 teeth are more than the 120 of standard sprockets ({SHIGLEY}).",
    ),
    (
        fact("odd_links", links=135, centre_mm=512.34, even_links=136),
        "135 links need a cranked link, which carries less than the chain, at a centre of 512.3 mm; 136 links were used "
        f"instead ({SHIGLEY}).",
    ),
    (
        fact("centre_of_even_links", given_centre_mm=508, links_exact=105.683, links=106, centre_mm=510.03),
        "508.0 mm would take 105.68 links; 106 links are taut at 510.0 mm (exact tangent geometry, ISO 10823).",
    ),
    (
        fact("links_and_teeth_share_factor", links=120, teeth=18.0, factor=6),
        "120 links and 18 teeth share the factor 6: the same links meet the same teeth; an odd count without a common "
        "factor spreads the wear (common practice).",
    ),
    (
        fact("centres_too_far_apart", centre_pitches=90.04, most_pitches=80.0),
        "The centres are 90 pitches apart, above 80: guides or a tensioner are needed (design handbook).",
    ),
    (
        fact("centres_outside_usual", centre_pitches=20.04, least_pitches=30.0, most_pitches=50.0),
        f"The centres are 20.0 pitches apart; 30 to 50 suit most drives ({SHIGLEY}).",
    ),
    (
        fact("speed_not_given"),
        "The speed is not given: speeds, rating, pull and lubrication were not checked.",
    ),
    (
        fact("power_not_given"),
        "The power is not given: design power, utilisation and pull were not checked.",
    ),
    (
        fact("service_factor_not_given"),
        "No service factor is given: 1.0, a smooth load, was used (The Complete Guide to Chain, table 4.2).",
    ),
    (
        fact("galling_limits_rating", power_without_galling_kw=230.7),
        "Plates and rollers alone would carry 231 kW; in the galling region the maker decides.",
    ),
    (
        fact("rated_as_standard_plates"),
        "Heavy plates: rated as the chain with standard plates.",
    ),
    (
        fact("rated_by_pitch"),
        "The ASME equations were applied by pitch to a B-series chain, with the roller constant of ISO 10823.",
    ),
    (
        fact("double_pitch_wear_limit_unseen", limit_percent=1.5),
        "The wear limit of double-pitch chain (1.5 %) is from memory, not seen in a source.",
    ),
    (
        fact("newer_tables_rate_higher"),
        "Newer tables rate No. 25 higher than this older generation (table of No. 25 citing ASME B29.1); never compare the two.",
    ),
    (
        fact("effective_teeth_used"),
        "Double pitch: the teeth were read as effective teeth, one for each link (ISO 1275); a double-cut rim has two for each.",
    ),
]


@pytest.mark.parametrize(("advice", "text"), ADVICE, ids=lambda value: getattr(value, "code", ""))
def test_advice_reads_as_a_sentence(advice, text):
    assert sentence(advice) == text


def test_every_sentence_of_advice_is_tested():
    assert {advice.code for advice, _ in ADVICE} == set(drive_advice.SENTENCES)


def test_every_sentence_of_doubt_names_a_source():
    drive = DriveInput(
        chain=find_chain("40"),
        driver_teeth=13,
        driven_teeth=130,
        links=201,
        driver_speed_rpm=1400,
        power_kw=9,
        lubrication="A",
    )
    found = [sentence(advice) for advice in calculate(drive).advice]
    assert len(found) >= 6
    assert all("(" in text and text.endswith(".") for text in found if "not given" not in text)
