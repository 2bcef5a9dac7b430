"""The box finds by what one knows of a part: teeth, chain, strands, bore, bush."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.edge.scope import limit_to
from api.screens.search import search
from drives.models import Position, WorkOrder
from inventory.models import Item
from tests.factories import (
    MORNING,
    BinFactory,
    BushFactory,
    ChainFactory,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StockLevelFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
)
from tests.movements import issue, receive

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelves(db):
    for number, chain, strands, teeth, words in (
        ("61-01", "60", 1, 24, "SPKT 60B24"),
        ("61-02", "60", 2, 24, "SPKT DOUBLE 60 24T"),
        ("61-03", "100", 1, 17, "SPROCKET 100 17T 1/2 KEY"),
        ("61-04", "40", 1, 17, "SPROCKET 40 17T STAINLESS"),
        ("61-05", "08B", 1, 17, "SPROCKET 08B 17T"),
    ):
        part = SprocketFactory(chain_designation=chain, strands=strands, teeth=teeth)
        ItemFactory(stock_number=number, description=words, specification=part)
    bush = BushFactory(bush_size="2012", bore_mm=35)
    ItemFactory(stock_number="62-01", description="TAPER BUSH 2012 35", specification=bush)
    ItemFactory(
        stock_number="62-02",
        description="TAPER BUSH 2012 40",
        specification=BushFactory(bush_size="2012", bore_mm=40),
    )
    ItemFactory(
        stock_number="63-01",
        description="ROLLER CHAIN 60-2",
        specification=ChainFactory(chain_designation="60", strands=2),
    )
    PositionFactory(
        tag="KLN-A-DRV",
        name="kiln 2 driver",
        drive__tag="KLN-A",
        drive__chain_designation="12A",
        drive__pitch_mm="19.05",
        drive__strands=2,
        teeth=24,
    )
    PositionFactory(
        tag="KLN-B-DRV",
        name="kiln 4 driver",
        drive__tag="KLN-B",
        drive__chain_designation="08A",
        drive__pitch_mm="12.7",
        drive__strands=1,
        teeth=17,
    )


def names(question):
    return [hit.name for hit in search(question).hits]


@pytest.mark.parametrize(
    ("question", "found"),
    [
        ("60-2", ["63-01", "61-02", "KLN-A-DRV", "KLN-A"]),
        ('1/2" 17T', ["61-04", "61-05", "KLN-B-DRV"]),
        ("bush 2012 35", ["62-01"]),
        ("2012 40", ["62-02"]),
        ("ANSI 40 17", ["61-04", "KLN-B-DRV"]),
        ("08B 17", ["61-05"]),
        ("duplex 60 24 teeth", ["61-02", "KLN-A-DRV"]),
        ("roller chain 60", ["63-01"]),
        ("stainless 1/2 pitch 17T", ["61-04"]),
        ("kiln 60-2", ["KLN-A-DRV"]),
    ],
)
def test_what_has_the_attributes_is_found_and_nothing_else(shelves, question, found):
    assert names(question) == found


def test_a_digit_is_a_word_of_its_own(shelves):
    assert names("kiln 2") == ["KLN-A-DRV"]


def test_a_word_that_none_of_them_has_is_said(shelves):
    found = search("60-2 24T brewhouse")
    assert [hit.name for hit in found.hits] == ["61-02", "KLN-A-DRV"]
    assert found.unmet == ("brewhouse",)
    assert search("60-2 24T double").unmet == ()


def test_what_is_called_so_comes_before_what_has_the_attributes(shelves):
    ItemFactory(stock_number="60-2", description="V-BELT")
    assert names("60-2") == ["60-2"]
    assert names("60 2") == ["60-2"]


def test_every_chip_leads_to_the_question_without_it(shelves):
    chips = search("duplex 60 24 teeth").chips
    assert [(chip.label, chip.address) for chip in chips] == [
        ("chain 60", "/?q=duplex+24T"),
        ("strands 2", "/?q=%2360+24T"),
        ("teeth 24", "/?q=%2360+duplex"),
    ]
    assert {chip.label for chip in search('1/2" 17T').narrower} >= {"40", "08B"}


def test_without_a_part_of_these_attributes_words_are_searched(shelves):
    ItemFactory(stock_number="64-01", description="SPKT 120B11", specification=None)
    assert names("120B11") == ["64-01"]
    nothing = search("E160B77")
    assert (nothing.hits, len(nothing.reading.filters)) == ((), 4)


def test_the_page_shows_what_was_understood_and_where_free_pieces_are(shelves):
    room = StoreroomFactory(code="MAIN")
    item = ItemFactory(stock_number="61-02")
    StockLevelFactory(
        item=item, storeroom=room, bin=BinFactory(storeroom=room, code="B-04"), on_hand=5, reserved=2
    )
    StockLevelFactory(item=item, storeroom=room, condition="on_hold", on_hand=9)
    client = Client()
    client.force_login(UserFactory())
    page = client.get("/", {"q": "60-2 24T brewhouse"})
    text = " ".join(page.content.decode().split())
    assert page.status_code == 200
    assert 'href="/?q=duplex+24T+brewhouse"' in text
    assert "3 free in MAIN" in text
    assert "B-04" in text
    assert "9 free" not in text
    assert "None of them has the word “brewhouse”" in text
    words = client.get("/", {"q": "60-2 24T", "as": "words"}).content.decode()
    assert "Understood as" not in words


def test_the_shelves_of_a_page_are_one_query(shelves):
    found = search("60 24T")
    with CaptureQueriesContext(connection) as caught:
        assert len(found.rows) == 3
    assert len(caught) == 1


def test_the_code_of_a_bin_finds_what_lies_in_it(shelves):
    room = StoreroomFactory(code="MAIN")
    place = BinFactory(storeroom=room, code="B-04-1")
    StockLevelFactory(item=ItemFactory(stock_number="61-02"), storeroom=room, bin=place, on_hand=5)
    StockLevelFactory(item=ItemFactory(stock_number="61-03"), storeroom=room, bin=place, on_hand=0)
    assert names("B-04-1") == names("b041") == ["61-02", "61-03"]
    assert names("B-04") == []


def test_the_number_of_an_order_finds_its_item_and_of_a_job_its_position(shelves):
    SupplyOrderFactory(external_id="PO-070043", item=ItemFactory(stock_number="61-04"))
    WorkOrder.objects.create(
        source="planning",
        external_id="WO-501268",
        source_updated_at=MORNING,
        title="renew driver",
        position=Position.objects.get(tag="KLN-A-DRV"),
    )
    order, job = search("po 070043").only, search("WO501268").only
    assert (order.kind, order.name) == ("delivery", "PO-070043")
    assert (job.kind, job.name) == ("position", "KLN-A-DRV")
    assert job.description == "work order WO-501268: renew driver"


def test_what_belongs_to_another_storeroom_is_not_found(shelves):
    here, there = StoreroomFactory(code="MAIN"), StoreroomFactory(code="NORTH")
    for room in (here, there):
        item = ItemFactory(stock_number="61-02")
        place = BinFactory(storeroom=room, code=f"{room.code}-04")
        StockLevelFactory(item=item, storeroom=room, bin=place, on_hand=5)
        SupplyOrderFactory(external_id=f"PO-{room.code}-7", item=item, storeroom=room)
    user = UserFactory()
    limit_to({"user": user}, [], [here])
    client = Client()
    client.force_login(user)
    assert client.get("/", {"q": "NORTH-04"}).status_code == 200
    assert client.get("/", {"q": "PO-NORTH-7"}).status_code == 200
    assert client.get("/", {"q": "MAIN-04"})["Location"] == "/items/61-02/"
    page = client.get("/", {"q": "60-2 24T"}).content.decode()
    assert "NORTH" not in page
    assert "MAIN" in page


def test_what_many_records_lack_is_a_filter_where_recorded_and_a_word_elsewhere(shelves):
    part = SprocketFactory(chain_designation="40", teeth=17, material="stainless_steel")
    ItemFactory(stock_number="61-06", description="INOX", specification=part)
    found = search("stainless 40 17T")
    assert [hit.name for hit in found.hits] == ["61-06"]
    assert [one.name for one in found.reading.filters] == ["chain", "teeth", "material"]

    by_words = search("40 17T hardened stainless")
    assert [hit.name for hit in by_words.hits] == ["61-04"]
    assert [one.name for one in by_words.reading.filters] == ["chain", "teeth"]
    assert by_words.unmet == ("hardened",)


def test_a_work_order_without_a_position_shows_what_was_booked_for_it_or_itself(shelves):
    job = {"source": "cmms", "source_updated_at": MORNING, "title": "spare for the workshop"}
    WorkOrder.objects.create(external_id="WO-901", **job)
    (alone,) = search("wo 901").hits
    assert (alone.name, alone.kind, alone.address) == ("WO-901", "work_order", "")
    assert search("wo 901").only is None

    room = StoreroomFactory()
    receive(Item.objects.get(stock_number="61-05"), room, 3, by="Marta Keller")
    issue(Item.objects.get(stock_number="61-05"), room, 1, by="Marta Keller", work_order="WO-901")
    (hit,) = search("WO-901").hits
    assert hit.name == "61-05"


def test_an_old_number_shows_first_the_item_that_goes_on(shelves):
    goes_on = Item.objects.get(stock_number="61-05")
    ItemFactory(stock_number="OLD-77", merged_into=goes_on, lifecycle="blocked")
    assert [hit.name for hit in search("old 77").hits] == ["61-05", "OLD-77"]
