"""The figures of a check name their units."""

from django.utils.translation import override

from api.screens.page_filters import check_figure
from api.wording.check_units import FIGURES, OF_ASPECT, OF_REASON
from api.wording.lengths import inches_first
from api.wording.sentences import SENTENCES
from inventory.facts import fact
from inventory.interchange.findings import Finding, compared
from inventory.interchange.vocabulary import Aspect, Outcome


def shown(aspect: Aspect, code: str, *figures: object, language: str = "en") -> list[str]:
    required, offered, limit, margin = figures
    values = compared(required, offered, limit=limit, margin=margin)  # type: ignore[arg-type]
    finding = Finding(aspect, Outcome.OK, (fact(code),), **values)
    with override(language):
        return [check_figure(finding, name) for name in FIGURES]


def test_every_aspect_has_its_units() -> None:
    assert set(OF_ASPECT) == set(Aspect)


def test_each_figure_has_the_unit_of_what_is_compared() -> None:
    assert shown(Aspect.MOUNTING, "bore_fits", 35.0, 34.99, 35.05, -0.0125) == [
        "35 mm",
        "34.99 mm",
        "35.05 mm",
        "-0.013 mm",
    ]
    assert shown(Aspect.MOUNTING, "key_pressure_high", 210.5, 81.2, 80.0, -1.2) == [
        "210.5 Nm",
        "81.2 MPa",
        "80 MPa",
        "-1.2 MPa",
    ]
    assert shown(Aspect.TEETH, "ratio_within_tolerance", 19, 18, 5.0, 0.3) == [
        "19 teeth",
        "18 teeth",
        "5 %",
        "0.3 %",
    ]
    assert shown(Aspect.RATING, "rated", 4.0, 5.0, 1.0, 0.2) == ["4 kW", "5 kW", "100 %", "20 %"]
    assert shown(Aspect.STRANDS, "rows_more_than_strands", 1, 2, 1, 1) == [
        "1 strand",
        "2 rows",
        "1 strand",
        "1 row",
    ]
    assert shown(Aspect.CHAIN, "same_chain", "08B", "08B", 7.75, None) == ["08B", "08B", "7.75 mm", "–"]


def test_lengths_of_a_check_are_in_the_units_of_the_reader() -> None:
    chosen = inches_first.set(True)
    try:
        assert shown(Aspect.HUB, "hub_too_long", 25.4, 30.0, 25.4, -4.6, language="de") == [
            "1 in (25,4 mm)",
            "1,1811 in (30 mm)",
            "1 in (25,4 mm)",
            "-0,1811 in (-4,6 mm)",
        ]
    finally:
        inches_first.reset(chosen)


def test_reasons_with_units_of_their_own_are_known() -> None:
    assert OF_REASON.keys() <= SENTENCES.keys()
