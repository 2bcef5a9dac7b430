import pytest
from django.test import Client

from api.screens.page_filters import chance
from drives.models import Cover
from tests.factories import (
    InstallationFactory,
    ItemFactory,
    PositionFactory,
    StoreroomFactory,
    UserFactory,
    stock,
)
from tests.stored_demand import calculate_demands

pytestmark = pytest.mark.django_db


def page(position):
    client = Client()
    client.force_login(UserFactory())
    answer = client.get(f"/positions/{position.tag}/")
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


@pytest.fixture
def shared():
    """One item that two positions could take; it sits on the second."""
    item, position, other = ItemFactory(), PositionFactory(), PositionFactory()
    for place in (position, other):
        Cover.objects.create(position=place, item=item, grade="drop_in")
    InstallationFactory(position=other, item=item)
    calculate_demands()
    return item, position, other


def test_a_last_piece_names_who_else_could_need_it(shared):
    item, position, other = shared
    stock(item, StoreroomFactory(), 1)
    text = page(position)
    assert "Last piece: other positions that could need it" in text
    assert f'<a href="/positions/{other.tag}/">{other.tag}</a>, essential' in text
    assert "no other part is available" in text
    assert "needs it within 21 days:" in text
    assert "Calculated on" in text


def test_a_position_that_came_after_the_calculation_has_no_chance_yet(shared):
    item, position, other = shared
    stock(item, StoreroomFactory(), 1)
    other.stored_demand.delete()
    assert "The chance of 1 position is not calculated yet: the next stocking run does it." in page(position)


def test_of_several_pieces_it_does_not_speak_of_the_last(shared):
    item, position, _ = shared
    stock(item, StoreroomFactory(), 2)
    text = page(position)
    assert "Last piece" not in text
    assert "Other positions that could need it" in text


def test_what_is_not_free_takes_nothing_from_anybody(shared):
    assert "could need it" not in page(shared[1])


def test_how_long_it_lasted_is_said(shared):
    item, _, other = shared
    stock(item, StoreroomFactory(), 1)
    assert "This part is usually fitted here" in page(other)


@pytest.mark.parametrize(
    ("share", "shown"),
    [(0, "0 %"), (0.00004, "below 0.01 %"), (0.0004, "0.04 %"), (0.0123, "1.2 %"), (0.256, "26 %")],
)
def test_a_small_chance_is_not_shown_as_none(share, shown):
    assert chance(share) == shown
