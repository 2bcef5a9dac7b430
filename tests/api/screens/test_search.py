import random
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.screens import search_hits, search_slips
from api.screens.search import search
from api.screens.search_hits import SOURCES
from api.screens.search_slips import one_typo_away
from drives.models import Drive, Position
from inventory.models import Item
from inventory.models.text_index import normal, text_index_of
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


@pytest.mark.parametrize(
    ("question", "queries"), [(TAG, 3), ("bag", 12), ("50B18", 14), ("nothing of the kind", 20)]
)
def test_queries_are_few_and_read_indexes(plant, question, queries):
    with CaptureQueriesContext(connection) as caught:
        search(question)
    # To ask PostgreSQL for a plan reads no row.
    assert len([one for one in caught if not one["sql"].startswith("EXPLAIN")]) == queries


def test_one_hit_goes_straight_there_and_near_ones_are_listed(plant):
    client = Client()
    client.force_login(UserFactory())
    assert client.get("/", {"q": "om dsp bc01 d1 drv"})["Location"] == f"/positions/{TAG}/"
    assert client.get("/", {"q": "410105"})["Location"] == "/items/41-0105/"
    near = client.get("/", {"q": "41-0l05"})
    assert near.status_code == 200
    assert "Nothing is called" in near.content.decode()


def everything():
    found = [(Position, "tag"), (Drive, "tag"), (Item, "stock_number")]
    return [
        source.hit(*row)
        for source, (model, name) in zip(SOURCES, found, strict=True)
        for row in model.objects.order_by(name).values_list(*source.columns)
    ]


def read_through(text):
    """The same search by reading every record, as the indexed one must find it."""
    key, words = normal(text), [normal(word) for word in text.split()]
    hits = everything()
    equal = [hit for hit in hits if key in hit.keys]
    if equal:
        return equal
    starting = [hit for hit in hits if any(own.startswith(key) for own in hit.keys)]
    wording = [hit for hit in hits if hit not in starting and all(map(occurring(hit), words))]
    wording.sort(key=lambda hit: -sum(map(standing_alone(hit), words)))
    if starting or wording:
        return starting + wording
    by_key = [hit for hit in hits if any(search_slips._is_one_typo(key, own) for own in hit.keys)]
    return by_key or [hit for hit in hits if all(search_slips.nearly_has(hit, word) for word in words)]


def words_of(hit):
    names = [normal(name) for name in (hit.name, *hit.other_names)]
    return [normal(word) for word in hit.text.split()] + names


def standing_alone(hit):
    """A word by itself, or one of those that a dash or stroke divides."""
    parts = [part.lower() for part in re.findall(r"[^\W_]+", hit.text)]
    return lambda word: word in words_of(hit) or word in parts


def occurring(hit):
    """In a word, never across two; one letter or digit is a word of its own."""
    return lambda word: (
        standing_alone(hit)(word) if len(word) == 1 else any(word in own for own in words_of(hit))
    )


def slipped(text, rng):
    """The text with a letter left out, doubled, swapped or changed."""
    at = rng.randrange(len(text) - 1)
    kinds = (
        text[at + 1 :],
        text[at] * 2 + text[at + 1 :],
        text[at + 1] + text[at] + text[at + 2 :],
        "x" + text[at + 1 :],
    )
    return text[:at] + rng.choice(kinds)


def test_the_index_finds_what_reading_every_record_finds(db, monkeypatch):
    rng = random.Random(5)
    words = [
        "SPKT",
        "sprocket",
        "TAPER",
        "bush",
        "1610",
        "50B18",
        "kiln",
        "Bag",
        "conveyor",
        "1-1/4",
        "FB",
        "idler",
    ]
    for number in range(40):
        some = " ".join(rng.sample(words, 3))
        ItemFactory(
            stock_number=f"{rng.randrange(40, 44)}-{number:03}",
            description=some,
            maker_part_number=rng.choice(["", f"CU {number}"]),
        )
    for number in range(8):
        machine = EquipmentFactory(tag=f"BC{number:02}", name=f"{rng.choice(words)} machine {number}")
        PositionFactory(
            tag=f"BC{number:02}-D1-DRV",
            name=rng.choice(["", "driver end"]),
            drive__tag=f"BC{number:02}-D1",
            drive__name=f"{rng.choice(words)} drive",
            drive__equipment=machine,
        )
    names = [name for hit in everything() for name in (hit.name, *hit.other_names) if name]
    asked = rng.sample(names, 15) + [" ".join(rng.sample(words, rng.choice((1, 2)))) for _ in range(25)]
    asked += [slipped(text, rng) for text in rng.sample(names, 8) + rng.sample(words, 8)] + [
        "bc 0",
        "d1",
        "drv",
        "e",
        "18",
    ]
    for text in asked:
        if any(len(word) > 1 for word in text.split()):
            assert list(search(text).hits) == read_through(text), text
    monkeypatch.setattr(search_hits, "MOST_COUNTED", 2)
    monkeypatch.setattr(search_hits, "MOST_SHOWN", 1)
    monkeypatch.setattr(search_hits, "MOST_READ", 1)
    for text in ("spkt", "drv", "bc 0"):
        few = search(text)
        assert few.is_cut
        assert set(few.hits) <= set(read_through(text))


def test_a_slip_in_a_code_is_found_among_the_first_five(plant):
    rng = random.Random(3)
    for number in range(50):
        ItemFactory(stock_number=f"41-{number + 200:04}")
    for _ in range(20):
        assert "41-0105" in names(slipped("41-0105", rng))[:5]


def test_single_letters_find_what_begins_with_them(plant):
    assert names("o") == [TAG, "OM-DSP-BC01-D1"]
    assert names("z") == []


def test_typing_errors_of_one_letter_are_all_tried():
    assert {"abdc", "abc", "abxd", "abcde", "zabcd"} <= set(one_typo_away("abcd"))
    assert one_typo_away("abc") == []


def test_a_common_word_is_looked_for_in_the_words_of_the_index():
    """PostgreSQL keeps the statistics of exactly this text."""
    item = next(source for source in SOURCES if source.model is Item)
    assert [one.name for one in item.text] == list(text_index_of(Item).fields)
