from decimal import Decimal

import pytest
from django.test import Client

from tests.factories import (
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)

pytestmark = pytest.mark.django_db
COUNTED = {"teeth": "17", "strands": "1", "worn": "true"}
MEASURED = COUNTED | {
    "outside_diameter_mm": "75,4",
    "caliper_diameter_mm": "60.0",
    "tooth_width_mm": "7.1",
}


@pytest.fixture
def client(db: None) -> Client:
    client = Client()
    client.force_login(UserFactory())
    return client


def read(client: Client, **query: str | list[str]) -> str:
    answer = client.get("/identify/", query)
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


def asked(page: str) -> str:
    """The box that the page asks to fill in."""
    return (
        page.rsplit('<input id="search"', maxsplit=1)[-1].split('<input id="', 1)[1].split('"', maxsplit=1)[0]
    )


def test_a_stranger_is_sent_to_the_login() -> None:
    assert Client().get("/identify/").status_code == 302


def test_it_asks_one_question_after_another_and_keeps_the_answers(client: Client) -> None:
    assert asked(read(client)) == "teeth"
    page = read(client, teeth="17")
    assert asked(page) == "strands"
    assert '<input type="hidden" name="teeth" value="17">' in page
    assert 'name="worn" value="true"' in read(client, teeth="17", strands="1")
    assert asked(read(client, **COUNTED)) in ("outside_diameter_mm", "caliper_diameter_mm")


def test_what_cannot_be_measured_is_passed_over(client: Client) -> None:
    first = asked(read(client, **COUNTED))
    page = read(client, **COUNTED, skip=[first])

    assert asked(page) != first
    assert f'<input type="hidden" name="skip" value="{first}">' in page
    assert "not measured" in page


def test_candidates_come_with_what_lies_on_the_shelf_and_where_it_is_used(client: Client) -> None:
    item = ItemFactory(stock_number="41-0105", specification=SprocketFactory(bore_mm=Decimal(25)))
    stock(item, StoreroomFactory(), 2)
    place = PositionFactory()
    page = read(client, **MEASURED, bore_mm="25")

    assert "<strong>08B</strong>" in page
    assert "same teeth: 428" in page
    assert "None of the listed chains: below 1 %." in page
    assert "41-0105" in page
    assert "same bore" in page
    assert place.tag in page


def test_a_size_in_inches_is_understood_where_it_says_so(client: Client) -> None:
    page = read(client, **COUNTED, outside_diameter_mm="2 31/32 in")

    assert "2 31/32 in" in page
    assert "<strong>08B</strong>" in page
    assert "Please correct" not in page


@pytest.mark.parametrize(
    ("query", "field", "part"),
    [
        ({"teeth": "0"}, "teeth", "6"),
        ({"teeth": "many"}, "teeth", "whole number"),
        ({"outside_diameter_mm": "2.96"}, "outside_diameter_mm", "Is that inches?"),
        ({"outside_diameter_mm": "55"}, "outside_diameter_mm", "smaller than"),
        ({"overall_width_mm": "5"}, "overall_width_mm", "smaller than"),
        ({"outside_diameter_mm": "x" * 300}, "outside_diameter_mm", "A number is expected"),
        ({"worn": "perhaps"}, "worn", "true or false"),
    ],
)
def test_a_wrong_answer_is_asked_again_with_the_reason(
    client: Client, query: dict[str, str], field: str, part: str
) -> None:
    page = read(client, **(MEASURED | query))

    assert f'<a href="#{field}">' in page
    assert part in page
    assert f'id="{field}"' in page
    # All else stays, with its sketch and what it may be.
    assert ('id="candidates"' in page) == (field != "teeth")
    assert ("<svg" in page) == field.endswith("_mm")


def test_an_answer_can_be_changed_and_the_others_stay(client: Client) -> None:
    page = read(client, **MEASURED)

    assert (
        'href="?teeth=17&amp;strands=1&amp;worn=true&amp;caliper_diameter_mm=60.0&amp;tooth_width_mm=7.1"'
        in page
    )


def test_a_doubtful_pair_is_told_to_be_tried_with_a_chain(client: Client) -> None:
    page = read(
        client,
        teeth="21",
        strands="1",
        worn="",
        outside_diameter_mm="112",
        caliper_diameter_mm="95.6",
        tooth_width_mm="8.85",
    )

    assert "No further measurement tells these apart: " in page
    assert "Lay a chain on the teeth" in page


def test_home_leads_to_it(client: Client) -> None:
    assert 'href="/identify/"' in client.get("/").content.decode()
