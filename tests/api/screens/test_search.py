import pytest
from django.test import Client

from api.screens.search import search
from tests.factories import EquipmentFactory, ItemFactory, PositionFactory, UserFactory

pytestmark = pytest.mark.django_db
TAG = "OM-DSP-BC01-D1-DRV"


@pytest.fixture
def plant(db):
    equipment = EquipmentFactory(tag="OM-DSP-BC01", name="Bag conveyor 1")
    position = PositionFactory(
        tag=TAG, name="driver of the bag conveyor 1", drive__tag="OM-DSP-BC01-D1", drive__equipment=equipment
    )
    ItemFactory(
        stock_number="41-0105",
        description="SPKT 50B18 1-1/4 FB",
        maker="Culverdene",
        maker_part_number="CU 19378",
    )
    ItemFactory(stock_number="41-0110", description="TAPER BUSH 1610")
    return position


def names(question):
    return [hit.name for hit in search(question).hits]


@pytest.mark.parametrize(
    "question",
    [TAG, TAG.lower(), "om dsp bc01 d1 drv", "OMDSPBC01D1DRV", "  OM_DSP_BC01_D1_DRV ", "om-dspbc01 d1drv"],
)
def test_a_tag_is_found_however_it_is_spaced(plant, question):
    found = search(question)
    assert found.only is not None
    assert found.only.name == TAG


@pytest.mark.parametrize(
    "question", ["OM-DSP-BC01-D1-DRW", "OM-DSP-BC01-D1-DR", "OM-DPS-BC01-D1-DRV", "0M-DSP-BC01-D1-DRV"]
)
def test_one_slip_shows_what_lies_near_and_goes_nowhere(plant, question):
    found = search(question)
    assert TAG in [hit.name for hit in found.hits]
    assert found.only is None or not found.is_near


@pytest.mark.parametrize("question", ["CU 19378", "cu19378", "CU-19378"])
def test_the_makers_number_leads_to_the_part(plant, question):
    assert names(question) == ["41-0105"]


@pytest.mark.parametrize("question", ["50B18", "spkt 1-1/4", "culverdene spkt", "sptk"])
def test_words_find_parts(plant, question):
    assert names(question) == ["41-0105"]


def test_words_find_places_and_drives(plant):
    assert set(names("bag conveyor")) == {TAG, "OM-DSP-BC01-D1"}
    assert set(names("bag convyor")) == {TAG, "OM-DSP-BC01-D1"}


def test_the_start_of_a_tag_finds_all_that_begin_with_it(plant):
    assert set(names("om dsp")) == {TAG, "OM-DSP-BC01-D1"}


@pytest.mark.parametrize("question", ["", "   ", "---", "\x00", "(", "%", "' OR 1=1"])
def test_a_question_of_nothing_finds_nothing(plant, question):
    assert names(question) == []


def test_everything_that_matches_is_counted_but_not_all_shown(plant):
    for count in range(60):
        ItemFactory(stock_number=f"77-{count:04}", description="IDLER")
    found = search("idler")
    assert (len(found.hits), len(found.shown), found.left_out) == (60, 40, 20)


@pytest.mark.parametrize("question", ["nothing of the kind", TAG, "bag", "50B18"])
def test_three_queries_answer_whatever_is_asked(plant, question, django_assert_num_queries):
    with django_assert_num_queries(3):
        search(question)


def test_one_hit_goes_straight_there_and_near_ones_are_listed(plant):
    client = Client()
    client.force_login(UserFactory())
    assert client.get("/", {"q": "om dsp bc01 d1 drv"})["Location"] == f"/positions/{TAG}/"
    assert client.get("/", {"q": "410105"})["Location"] == "/items/41-0105/"
    near = client.get("/", {"q": "41-0l05"})
    assert near.status_code == 200
    assert "Nothing is called" in near.content.decode()
