"""What is written on an administration page is filled in, and refused in words."""

import pytest

from inventory.models import Specification, StockingTerms, StockPolicy
from tests.admin_pages import address
from tests.factories import AdminFactory, ItemFactory, StoreroomFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


def test_a_specification_is_filled_from_its_designation(ines):
    form = {"kind": "sprocket", "chain_designation": "40", "teeth": "17", "strands": "1"}
    response = ines.post(address(Specification, "add"), form)
    assert response.status_code == 302, response.context["errors"]
    added = Specification.objects.get()
    assert (added.chain_designation, float(added.pitch_mm)) == ("08A", 12.7)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"teeth": "5"}, "teeth must be from 6 to 400."),
        (
            {"bore_mm": "30", "max_bore_mm": "28"},
            "max_bore_mm must not be smaller than bore_mm.",
        ),
        ({"chain_designation": "08B", "pitch_mm": "15"}, "leave out one of the two."),
        ({"hub_diameter_mm": "0"}, "hub_diameter_mm must be greater than 0"),
    ],
)
def test_a_wrong_specification_is_refused_in_words(ines, wrong, sentence):
    response = ines.post(address(Specification, "add"), {"kind": "sprocket"} | wrong)
    assert sentence in response.content.decode()
    assert not Specification.objects.exists()


def test_a_policy_says_who_set_it(ines):
    item, room = ItemFactory(), StoreroomFactory()
    form = {"item": item.pk, "storeroom": room.pk, "stocked": "on", "reorder_point": "1", "order_up_to": "3"}
    response = ines.post(address(StockPolicy, "add"), form)
    assert response.status_code == 302, response.context["errors"]
    policy = StockPolicy.objects.get()
    assert (policy.order_up_to, policy.set_by_name) == (3, "ines")


def test_a_policy_that_contradicts_itself_is_refused_in_words(ines):
    item, room = ItemFactory(), StoreroomFactory()
    form = {"item": item.pk, "storeroom": room.pk, "stocked": "on", "reorder_point": "3", "order_up_to": "3"}
    page = ines.post(address(StockPolicy, "add"), form).content.decode()
    assert "order_up_to must be above reorder_point" in page
    assert not StockPolicy.objects.exists()


def test_the_terms_are_set_once_and_then_changed(ines):
    form = {
        "holding_rate_per_year": "0.25",
        "currency": "EUR",
        "planning_days": "7",
        "staging_days": "1",
        "chain_joints": "0",
        "worst_grade": "drop_in",
    }
    response = ines.post(address(StockingTerms, "add"), form)
    assert response.status_code == 302, response.context["errors"]
    terms = StockingTerms.objects.get()
    assert (terms.pk, terms.are_set, terms.worst_grade) == (1, True, "drop_in")
    assert ines.get(address(StockingTerms, "add")).status_code == 403
    ines.post(address(StockingTerms, "change", 1), form | {"planning_days": "3"})
    assert StockingTerms.objects.get().planning_days == 3
    assert ines.post(address(StockingTerms, "delete", 1), {"post": "yes"}).status_code == 403


def test_terms_out_of_bounds_are_refused_in_words(ines):
    form = {
        "holding_rate_per_year": "0",
        "currency": "EUR",
        "planning_days": "7",
        "staging_days": "1",
        "chain_joints": "0",
        "worst_grade": "drop_in",
    }
    page = ines.post(address(StockingTerms, "add"), form).content.decode()
    assert "holding_rate_per_year must be greater than 0" in page
    assert not StockingTerms.objects.exists()
