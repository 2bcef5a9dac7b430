import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from rest_framework.exceptions import APIException, ParseError, ValidationError
from rest_framework.test import APIClient

from api.edge.parsing import (
    LengthField,
    MoneyField,
    NumberField,
    StrictFloatField,
    StrictIntegerField,
    moment,
    nearest,
    parse_json,
)

pytestmark = pytest.mark.urls("tests.api.edge.edge_site")
SIZES = "/api/v1/try/sizes/"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b'{"a": 1, "a": 2}', 'The member "a" is given more than once'),
        (b'{"a": {"b": 1, "b": 1}}', 'The member "b" is given more than once'),
        (b'{"a": NaN}', "NaN is not a number"),
        (b'{"a": -Infinity}', "-Infinity is not a number"),
        (b'{"a": 1e400}', "The number 1e400 is too large"),
        (b'{"a": ' + b"9" * 5000 + b"}", "is too large"),
        (b"[" * 100_000, "nested more than 64 levels"),
        (b'{"a":' * 100_000, "nested more than 64 levels"),
        (b'\xef\xbb\xbf{"a": 1}', "byte order mark"),
        (b'\xff\xfe{\x00"\x00', "byte order mark"),
        (b'{"a": "\xe9"}', "not UTF-8 (byte 7)"),
        (b'"text"', "must be an object or a list"),
        (b"3", "must be an object or a list"),
        (b'{"a": 1,}', "not JSON"),
        (b'{"a": "\n"}', "not JSON"),
        (b"", "not JSON"),
    ],
)
def test_it_refuses_what_two_readers_may_read_differently(body: bytes, said: str) -> None:
    with pytest.raises(ParseError) as caught:
        parse_json(body)
    assert said in str(caught.value.detail)


def test_it_points_at_text_that_cannot_be_stored() -> None:
    with pytest.raises(APIException) as caught:
        parse_json(b'{"a": ["ok", "\\u0000"], "b": {"c": "\\ud800"}, "d": "\\ud83d\\ude00"}')
    assert [row["pointer"] for row in caught.value.rows] == ["/a/1", "/b/c"]  # type: ignore[attr-defined]


def test_it_does_not_count_brackets_inside_text() -> None:
    assert parse_json(b'{"a": "' + b"[" * 1000 + b'\\""}') == {"a": "[" * 1000 + '"'}


def test_it_reads_64_levels() -> None:
    assert parse_json(b"[" * 64 + b"]" * 64)


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.text(), st.lists, max_leaves=20))
def test_it_reads_what_json_writes(value: Any) -> None:
    written = json.dumps([value])
    assume("\\u0000" not in written)
    assert parse_json(written.encode()) == [value]


@pytest.mark.django_db
def test_it_names_every_bad_member_at_every_depth(as_viewer: APIClient) -> None:
    body = {
        "shaft": {"diameter_mm": "25", "kyed": True},
        "speed_rpm": "1_000",
        "teeth": True,
        "role": "drive",
        "unit_cost": 3,
        "at": "2026-01-01T00:00:00",
        "lines": [1, 2, 3, "4"],
        "shafts": [{"diameter_mm": 25}, {}],
        "tooth": 1,
    }
    response = as_viewer.post(SIZES, body)
    rows = {row["pointer"]: row["detail"] for row in response.json()["errors"]}
    assert set(rows) == {
        "/tooth",
        "/shaft/kyed",
        "/shaft/diameter_mm",
        "/speed_rpm",
        "/teeth",
        "/role",
        "/unit_cost",
        "/at",
        "/lines/3",
        "/shafts/1/diameter_mm",
    }
    assert rows["/shaft/kyed"] == 'There is no such member. Did you mean "keyed"?'
    assert rows["/role"] == '"drive" is not one of: driver, driven, idler. Did you mean "driven"?'


@pytest.mark.django_db
def test_it_gives_lengths_as_exact_numbers(as_viewer: APIClient) -> None:
    response = as_viewer.post(SIZES, {"shaft": {"diameter_mm": 25.396875}, "unit_cost": "12.50"})
    assert response.status_code == 200
    assert b'"diameter_mm":25.396875' in response.content
    assert response.json()["unit_cost"] == "12.50"


@pytest.mark.django_db
def test_it_reads_utf_8_alone(as_viewer: APIClient) -> None:
    response = as_viewer.generic("POST", SIZES, b"{}", content_type="application/json; charset=latin-1")
    assert response.status_code == 415


@pytest.mark.django_db
def test_it_refuses_a_list_where_an_object_is_due(as_viewer: APIClient) -> None:
    response = as_viewer.post(SIZES, [1])
    assert response.json()["detail"] == "An object is expected here, not list."


@pytest.mark.parametrize("data", ["1", "1_000", "１", True, None, [], {}, 10**400, 1e301])
def test_a_number_is_a_finite_json_number(data: Any) -> None:
    with pytest.raises(ValidationError):
        StrictFloatField().run_validation(data)


def test_a_negative_zero_is_zero() -> None:
    assert str(StrictFloatField().run_validation(-0.0)) == "0.0"


@pytest.mark.parametrize("data", ["1", True, 1.5, 2**31, -(10**30), 1e300])
def test_a_whole_number_is_one_that_both_databases_store(data: Any) -> None:
    with pytest.raises(ValidationError):
        StrictIntegerField().run_validation(data)


def test_a_whole_number_may_come_with_a_point() -> None:
    assert StrictIntegerField().run_validation(17.0) == 17


@pytest.mark.parametrize(
    ("data", "kept"),
    [(0.396875, "0.396875"), (19.049999999999997, "19.05"), (25, "25"), (0.001, "0.001")],
)
def test_a_length_is_kept_to_a_millionth(data: float, kept: str) -> None:
    assert LengthField().run_validation(data) == Decimal(kept)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (2.0, "2 mm is outside 5 to 500 mm. Is that inches? 2 in is 50.8 mm."),
        (0, "0 mm is outside 5 to 500 mm. Is the value in millimetres?"),
        (-25, "-25 mm is outside 5 to 500 mm. Is the value in millimetres?"),
        (25_400, "25400 mm is outside 5 to 500 mm. Is the value in millimetres?"),
        (25.1234567, "At most 6 decimal places are kept."),
        ("25", "A number is expected here."),
        (True, "A number is expected here."),
        (1e300, "The number is too large."),
        (10**300, "The number is too large."),
    ],
)
def test_an_implausible_length_is_asked_about(data: Any, said: str) -> None:
    with pytest.raises(ValidationError) as caught:
        LengthField(min_mm=5, max_mm=500).run_validation(data)
    assert [str(one) for one in caught.value.detail] == [said]


@pytest.mark.parametrize(
    "text",
    [
        "2026-01-01T00:00:00",
        "2026-01-01",
        "2026-13-01T00:00:00Z",
        "9999-12-31T23:59:59-14:00",
        "0001-01-01T00:00:00+14:00",
        "２026-01-01T00:00:00Z",
        "2026-01-01T00:00:60Z",
        "2026-01-01T00:00:00+25:00",
    ],
)
def test_a_time_needs_an_offset_and_must_exist(text: str) -> None:
    assert moment(text) is None


def test_a_time_is_kept_in_utc() -> None:
    found = moment("2026-03-01T14:30:00.25+01:00")
    assert found is not None
    assert found.isoformat() == "2026-03-01T13:30:00.250000+00:00"


def test_it_offers_nothing_where_nothing_is_near() -> None:
    assert nearest("zzzz", ["teeth", "strands"]) == ""


@pytest.mark.parametrize("data", ["", " "])
@pytest.mark.parametrize("kind", [NumberField, LengthField, MoneyField])
def test_empty_text_is_not_null(kind: Any, data: str) -> None:
    with pytest.raises(ValidationError):
        kind(allow_null=True).run_validation(data)
    assert kind(allow_null=True).run_validation(None) is None
