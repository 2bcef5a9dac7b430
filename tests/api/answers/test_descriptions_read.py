import pytest

from tests.api.records import errors

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/descriptions/read/"


def read(client, *lines):
    found = client.post(ADDRESS, {"lines": list(lines)})
    assert found.status_code == 200, found.content
    return found.json()["results"]


def test_a_line_is_read_with_the_piece_of_text_behind_each_attribute(as_viewer):
    (found,) = read(as_viewer, "SPKT D60B20 1-7/16 KW 3/8")

    assert found["outcome"] == "parsed"
    assert (found["questions"], found["unread"]) == ([], [])
    assert found["attributes"]["bore_mm"] == {
        "value": 36.5125,
        "basis": "stated",
        "confidence": 0.97,
        "text": "1-7/16",
        "span": [12, 18],
    }
    assert found["attributes"]["strands"]["value"] == 2
    assert found["attributes"]["keyway"]["value"] is True


def test_an_assumed_value_says_so(as_viewer):
    (found,) = read(as_viewer, "SPROCKET #60 20T")

    assert found["attributes"]["strands"] == {
        "value": 1,
        "basis": "assumed",
        "confidence": 0.5,
        "text": "",
        "span": None,
    }


def test_a_doubt_is_a_question_with_code_values_and_sentence(as_viewer):
    (found,) = read(as_viewer, "CHAIN WHEEL 1/2 X 5/16 25T DUPLEX")

    assert found["outcome"] == "needs_review"
    assert found["questions"] == [
        {
            "code": "which_chain_is_meant",
            "values": {"candidates": ["08B", "40"], "text": "1/2 X 5/16"},
            "explanation": "“1/2 X 5/16” fits several chains: 08B and 40. Which one is meant?",
        }
    ]


def test_another_part_is_rejected_and_lines_keep_their_order(as_viewer):
    first, second, third = read(as_viewer, "CHAIN 60-1 RIVETED 10FT", "SPKT 40B10", "")

    assert (first["outcome"], first["questions"][0]["code"]) == ("rejected", "not_a_sprocket")
    assert (second["outcome"], third["outcome"]) == ("parsed", "rejected")
    assert first["attributes"] == {}


def test_what_was_not_understood_is_listed(as_viewer):
    (found,) = read(as_viewer, "SPROCKET 08B-1 17T XQ7")

    assert [piece["text"] for piece in found["unread"]] == ["XQ", "7"]
    assert found["outcome"] == "needs_review"


def test_a_thousand_lines_are_read_and_one_more_is_refused(as_viewer):
    assert len(read(as_viewer, *["SPKT 40B10"] * 1_000)) == 1_000

    refused = as_viewer.post(ADDRESS, {"lines": ["SPKT 40B10"] * 1_001})
    assert refused.status_code == 400
    assert list(errors(refused)) == ["/lines"]


@pytest.mark.parametrize(
    ("lines", "where"),
    [
        (["SPKT 40B10", "X" * 10_000], "/lines/1"),
        (["SPKT 40B10", "SPKT", 7], "/lines/2"),
        ([None], "/lines/0"),
        ([["SPKT"]], "/lines/0"),
        ("SPKT 40B10", "/lines"),
        ([], "/lines"),
        ({"a": 1}, "/lines"),
        (None, "/lines"),
    ],
)
def test_bad_input_is_refused_by_name(as_viewer, lines, where):
    refused = as_viewer.post(ADDRESS, {"lines": lines})

    assert refused.status_code == 400
    assert list(errors(refused)) == [where]


def test_unknown_and_missing_members_are_refused(as_viewer):
    refused = as_viewer.post(ADDRESS, {"line": ["SPKT"]})

    assert set(errors(refused)) == {"/line", "/lines"}


def test_a_stranger_is_refused(client):
    assert client.post(ADDRESS, {"lines": ["SPKT"]}, content_type="application/json").status_code == 401
