"""What a typed question is read as. Grammar of the questions: common practice, no source; numbers of chains by ISO 606 and ASME B29.1."""

import pytest

from inventory.descriptions.query import QueryFilter, query_text, read_query

READ = {
    "17T": {"teeth": 17},
    "Z=19": {"teeth": 19},
    "60-2": {"chain": "60", "strands": 2},
    "12B-2": {"chain": "12B", "strands": 2},
    "#60 24T": {"chain": "60", "teeth": 24},
    "ANSI 40 17": {"chain": "40", "teeth": 17},
    "40 17": {"chain": "40", "teeth": 17},
    "60B20": {"chain": "60", "strands": 1, "teeth": 20, "hub_style": "B"},
    "D60B20": {"chain": "60", "strands": 2, "teeth": 20, "hub_style": "B"},
    "duplex 12B 19 teeth": {"chain": "12B", "strands": 2, "teeth": 19},
    '1/2" 17T': {"pitch_mm": 12.7, "teeth": 17},
    "5/8 pitch 19 teeth bore 1.9375 in": {"pitch_mm": 15.875, "teeth": 19, "bore_mm": 49.2125},
    "bush 2012 35": {"kind": "bush", "bush_size": "2012", "bore_mm": 35.0},
    "Buchse 2517 50": {"kind": "bush", "bush_size": "2517", "bore_mm": 50.0},
    "1610 25": {"kind": "bush", "bush_size": "1610", "bore_mm": 25.0},
    "bore 35": {"bore_mm": 35.0},
    "2-3/16": {"bore_mm": 55.5625},
    "Kette 12B-2": {"kind": "chain", "chain": "12B", "strands": 2},
    "Kettenrad 16B-1 21 Z": {"kind": "sprocket", "chain": "16B", "strands": 1, "teeth": 21},
    "piñón 10B 23 dientes": {"kind": "sprocket", "chain": "10B", "teeth": 23},
    "pignone 08B-1 z=17 foro 25,4 mm": {
        "kind": "sprocket",
        "chain": "08B",
        "strands": 1,
        "teeth": 17,
        "bore_mm": 25.4,
    },
    "alésage 40 mm 12B": {"chain": "12B", "bore_mm": 40.0},
    "stainless 60 19": {"chain": "60", "teeth": 19, "material": "stainless_steel"},
    "hardened 12B 17": {"chain": "12B", "teeth": 17, "hardened_teeth": True},
    "plain bore 60 19": {"chain": "60", "teeth": 19, "bore_type": "plain"},
    "vorgebohrt 16B 38": {"chain": "16B", "teeth": 38, "bore_type": "plain"},
    "split 80 52T": {"chain": "80", "teeth": 52, "bore_type": "split"},
    "hex 08B 21T": {"chain": "08B", "teeth": 21, "bore_type": "hex"},
    "08B 38 taper": {"chain": "08B", "teeth": 38, "bore_type": "tapered"},
    "idler 12B 17T": {"chain": "12B", "teeth": 17, "role_kind": "idler"},
    "taper 3020 16B": {"chain": "16B", "bush_size": "3020"},
    "100 21T qd E": {"chain": "100", "teeth": 21, "bush_size": "E"},
}


@pytest.mark.parametrize("text", READ)
def test_a_question_is_read_as_filters_and_nothing_is_left(text: str) -> None:
    reading = read_query(text)
    assert {one.name: one.values[0] for one in reading.filters} == READ[text]
    assert reading.words == ()


@pytest.mark.parametrize("text", READ)
def test_filters_written_as_text_are_read_as_the_same_filters(text: str) -> None:
    reading = read_query(text)
    assert read_query(query_text(reading.filters, ["kiln"])).filters == reading.filters


@pytest.mark.parametrize(
    "text",
    [
        *(
            "",
            "kiln 2",
            "60",
            "2012",
            "bush",
            "simplex",
            "41-01",
            "42-0215",
            "A-01-1",
            "WO-501268",
            "PO-070043",
        ),
        *(
            "CU 50",
            "po 070003",
            "OM-KLN-KS12-D1-DRV",
            "D1",
            "12 x 8",
            "kiln drive 60 19",
            "4711-60B20",
            "bag conveyor",
        ),
    ],
)
def test_what_may_be_a_name_or_something_else_stays_words(text: str) -> None:
    assert read_query(text).filters == ()
    assert read_query(text).words == tuple(text.split())


def test_words_that_no_filter_takes_are_kept_as_they_were_typed() -> None:
    reading = read_query("Kiln 60-2 24T stainless")
    assert [one.name for one in reading.filters] == ["chain", "strands", "teeth", "material"]
    assert reading.words == ("Kiln",)


def test_what_many_records_lack_is_words_in_the_plainer_reading() -> None:
    _, plainer = read_query("Kiln 60-2 24T stainless").readings
    assert [one.name for one in plainer.filters] == ["chain", "strands", "teeth"]
    assert plainer.words == ("Kiln", "stainless")
    assert plainer.readings == (plainer,)


def test_a_pitch_offers_its_chains_and_a_pitch_with_its_width_is_one_of_two_chains() -> None:
    """ISO 606: 08A and 08B have a pitch of 12.7 mm; 10A (ASME 50) and 10B have 15.875 mm and 9.4 to 9.65 mm between the plates."""
    (pitch,) = (one for one in read_query('1/2" 17T').filters if one.name == "pitch_mm")
    assert {"40", "08B"} <= set(pitch.narrower)
    assert read_query("5/8 x 3/8 19T").filters[0] == QueryFilter("chain", ("10B", "50"))


@pytest.mark.parametrize("text", ["60-1 12B 19T", "19T 21T 12B"])
def test_contradicting_values_are_no_filter(text: str) -> None:
    names = {one.name for one in read_query(text).filters}
    assert ("chain" not in names) or ("teeth" not in names)
