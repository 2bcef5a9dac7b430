"""Lists on pages: the rows, filters and order of the API, the address as the search, the same rows as a file."""

from datetime import datetime
from io import BytesIO
from typing import Any

import openpyxl
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from api.answers.deliveries import record_delivery
from api.edge.filtering import StrictFilterSet
from api.models import Reach
from api.screens.lists.declared import LISTS, NAMES
from api.wire.declaration import wire_records
from api.wire.views import view_of
from inventory.stores.deliveries import IncomingDelivery
from tests.factories import (
    AreaFactory,
    ChainItemFactory,
    DriveFactory,
    EquipmentFactory,
    ItemFactory,
    PlantFactory,
    PositionFactory,
    SprocketFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def reader() -> Client:
    return signed_in("viewer")


@pytest.fixture
def shelves() -> None:
    for number, room, quantity in (("SPR-1", "MAIN", 3), ("SPR-2", "MAIN", 1), ("SPR-3", "KILN", 8)):
        item = ItemFactory(
            stock_number=number, specification=SprocketFactory(), description=f"wheel {number}"
        )
        stock(item, StoreroomFactory(code=room), quantity)


def numbers_on(page: str) -> list[str]:
    return [number for number in ("SPR-1", "SPR-2", "SPR-3") if f"/items/{number}/" in page]


def text(client: Client, address: str, **query: str) -> str:
    return client.get(address, query).content.decode()


def body(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def csv_of(client: Client, query: dict[str, str]) -> str:
    return body(client.get("/lists/stock.csv", query)).decode("utf-8-sig")


@pytest.mark.parametrize("name", LISTS)
def test_every_list_shows_only_what_the_api_has(name: str, reader: Client) -> None:
    shown = LISTS[name]
    record = next(one for one in wire_records() if one.path == shown.path)
    filterset: type[StrictFilterSet] = view_of(record).filterset_class
    assert set(shown.filter_names) <= set(filterset.names())
    assert {*shown.column_names, *(one.partition("__")[0] for one in shown.filter_names)} <= NAMES.keys()
    if record.fields:
        assert {*shown.column_names} - {"unit"} <= {*record.names}
    assert reader.get(f"/lists/{name}/").status_code == 200


def test_a_list_is_filtered_searched_and_ordered_by_its_address(reader: Client, shelves: None) -> None:
    assert numbers_on(text(reader, "/lists/stock/")) == ["SPR-1", "SPR-2", "SPR-3"]
    assert numbers_on(text(reader, "/lists/stock/", storeroom="KILN")) == ["SPR-3"]
    assert numbers_on(text(reader, "/lists/stock/", q="wheel SPR-2", storeroom="")) == ["SPR-2"]
    page = text(reader, "/lists/stock/", on_hand__gte="2", ordering="-on_hand", storeroom="")
    assert numbers_on(page) == ["SPR-1", "SPR-3"]
    assert page.index("SPR-3") < page.index("SPR-1")
    assert "On hand, from: 2" in page


def test_a_quantity_says_its_unit_and_a_row_opens_what_is_to_be_done(reader: Client) -> None:
    order = SupplyOrderFactory(item=ChainItemFactory(stock_number="CHN-1"), quantity=289)
    page = text(reader, "/lists/orders/")
    assert f'<a class="ref" href="/deliveries/orders/{order.pk}/">{order.external_id}</a>' in page
    assert ">link</td>" in page.replace("\n", "")
    assert ">link</td>" in text(reader, "/lists/items/").replace("\n", "")
    lines = body(reader.get("/lists/orders.csv", headers={"Accept-Language": "de"})).decode().splitlines()
    assert ",289,0,289,Glied," in lines[1]


def test_the_storeroom_is_remembered_until_it_is_taken_away(reader: Client, shelves: None) -> None:
    reader.get("/lists/stock/", {"storeroom": "KILN"})
    began = reader.get("/lists/counts/")
    assert (began.status_code, began["Location"]) == (302, "/lists/counts/?storeroom=KILN")
    assert reader.get("/lists/counts/", {"storeroom": ""}).status_code == 200
    assert reader.get("/lists/counts/").status_code == 200


def test_plant_and_area_are_remembered_too(reader: Client) -> None:
    reader.get("/lists/drives/", {"plant": "WEIR", "area": "KLN"})
    assert reader.get("/lists/positions/")["Location"] == "/lists/positions/?plant=WEIR&area=KLN"
    assert reader.get("/lists/installations/")["Location"] == "/lists/installations/?plant=WEIR"
    assert reader.get("/lists/stock/").status_code == 200


def test_a_long_file_is_read_on_as_its_reader_after_the_request(
    reader: Client, shelves: None, monkeypatch: Any
) -> None:
    monkeypatch.setattr("api.screens.lists.listed.FILE_PAGE_SIZE", 1)
    reach = Reach.objects.create(user=UserFactory())
    reach.storerooms.set([StoreroomFactory(code="MAIN")])
    answer: Any = reader.get("/lists/stock.csv", headers={"Accept-Language": "de"})
    assert [line.split(",")[0] for line in body(answer).decode().splitlines()[1:]] == ["SPR-1", "SPR-2"]


def test_what_does_not_go_on_a_sheet_goes_on_the_next(
    reader: Client, shelves: None, monkeypatch: Any
) -> None:
    monkeypatch.setattr("api.edge.workbook_writing.ROWS_OF_A_SHEET", 2)
    answer: Any = reader.get("/lists/stock.xlsx")
    sheets = openpyxl.load_workbook(BytesIO(body(answer))).worksheets
    assert len(sheets) > 1
    assert len({tuple(cell.value for cell in sheet[1]) for sheet in sheets}) == 1


def test_a_file_says_words_and_moments_as_the_page_does(reader: Client, shelves: None) -> None:
    answer: Any = reader.get("/lists/movements.xlsx", headers={"Accept-Language": "de"})
    header, first, *_rest = openpyxl.load_workbook(BytesIO(body(answer))).active.iter_rows(values_only=True)
    assert header[0] == "Am (Europe/Berlin)" or header[0].endswith("(Europe/Berlin)")
    assert isinstance(first[0], datetime)
    assert first[1] == "Zugang"


def delivered(number: str, supplier: str) -> None:
    item = ItemFactory(stock_number=number, specification=None)
    order = SupplyOrderFactory(item=item, supplier=supplier, quantity=2)
    record_delivery(IncomingDelivery(order=order, quantity=2, by="Marta Keller"))


def test_movements_name_the_supplier_of_what_came_and_are_found_and_taken_along_by_it(
    reader: Client, shelves: None
) -> None:
    delivered("SEAL-1", "Weir Chain")
    delivered("SEAL-2", "Kiln Parts")
    page = text(reader, "/lists/movements/", supplier="Kiln Parts")
    assert ["SEAL-1" in page, "SEAL-2" in page, *numbers_on(page)] == [False, True]
    assert "Supplier: Kiln Parts" in page
    lines = body(reader.get("/lists/movements.csv", {"supplier": "Kiln Parts"})).decode().splitlines()
    assert [line.count("Kiln Parts") for line in lines] == [0, 1]
    assert "Supplier" in lines[0]


@pytest.mark.parametrize(
    ("ordering", "numbers"),
    [
        ("item", ["SPR-1", "SPR-2", "SPR-3"]),
        ("-item", ["SPR-3", "SPR-2", "SPR-1"]),
        ("storeroom", ["SPR-3", "SPR-1", "SPR-2"]),
        ("-kind", ["SPR-3", "SPR-2", "SPR-1"]),
    ],
)
def test_movements_are_ordered_on_the_page_and_in_the_file(
    ordering: str, numbers: list[str], reader: Client, shelves: None
) -> None:
    page = text(reader, "/lists/movements/", ordering=ordering)
    assert sorted(numbers_on(page), key=page.index) == numbers
    lines = body(reader.get("/lists/movements.csv", {"ordering": ordering})).decode().splitlines()
    assert [number for line in lines[1:] for number in numbers if number in line] == numbers


def test_more_movements_take_no_more_questions(reader: Client, shelves: None) -> None:
    counts = []
    for number in ("SEAL-1", "SEAL-2", "SEAL-3"):
        delivered(number, "Weir Chain")
        with CaptureQueriesContext(connection) as asked:
            text(reader, "/lists/movements/", ordering="item")
        counts.append(len(asked))
    assert counts[1] == counts[2]


@pytest.fixture
def tree() -> None:
    plant = PlantFactory(code="WEIR")
    machine = EquipmentFactory(tag="KLN-1", area=AreaFactory(plant=plant, code="KLN"))
    EquipmentFactory(tag="STP-1", area=AreaFactory(plant=plant, code="STP"))
    PositionFactory(tag="KLN-1-D1-DRV", drive=DriveFactory(tag="KLN-1-D1", equipment=machine))


def tree_rows(client: Client, **query: str) -> list[str]:
    lines = body(client.get("/lists/tree.csv", query)).decode().splitlines()
    return [",".join(line.split(",")[:-1]).rstrip(",") for line in lines]


def test_the_tree_opens_level_by_level(reader: Client, tree: None) -> None:
    assert tree_rows(reader) == [
        "Plant,Area,Equipment",
        "WEIR",
        "WEIR,KLN",
        "WEIR,KLN,KLN-1",
        "WEIR,STP",
        "WEIR,STP,STP-1",
    ]
    page = text(reader, "/lists/tree/")
    assert "?plant=WEIR&amp;area=KLN&amp;equipment=KLN-1" in page
    opened = text(reader, "/lists/tree/", plant="WEIR", area="KLN", equipment="KLN-1")
    assert "/drives/KLN-1-D1/" in opened
    assert "/positions/KLN-1-D1-DRV/" in opened
    assert "STP-1" not in opened


def test_the_tree_is_searched_through_all_levels_within_its_readers_plants(
    reader: Client, tree: None
) -> None:
    assert "/positions/KLN-1-D1-DRV/" in text(reader, "/lists/tree/", q="d1-drv")
    Reach.objects.create(user=UserFactory()).plants.set([PlantFactory(code="OTHER")])
    assert "KLN" not in text(reader, "/lists/tree/", level="position")
    assert "KLN" not in body(reader.get("/lists/tree.csv", {"level": "position"})).decode()


@pytest.mark.parametrize("name", [*LISTS, "tree"])
def test_an_empty_list_says_how_its_first_row_comes(name: str, reader: Client) -> None:
    page = text(reader, f"/lists/{name}/")
    begins = "No plant is recorded" if name == "tree" else str(LISTS[name].begins)
    assert begins[:40] in page


@pytest.mark.parametrize("query", [{}, {"storeroom": "MAIN", "ordering": "-on_hand"}, {"q": "nothing"}])
def test_a_file_has_the_rows_and_columns_of_the_page(
    reader: Client, shelves: None, query: dict[str, str]
) -> None:
    lines = csv_of(reader, query)
    rows = [line.split(",") for line in lines.splitlines()]
    sheet: Any = openpyxl.load_workbook(BytesIO(body(reader.get("/lists/stock.xlsx", query)))).active
    cells = [[str(cell.value or 0) for cell in row] for row in sheet.iter_rows()]
    assert [row[0] for row in cells] == [row[0] for row in rows]
    assert [row[5] for row in cells] == [row[5] for row in rows]
    page = text(reader, "/lists/stock/", **query)
    assert [row[0] for row in rows[1:]] == sorted(numbers_on(page), key=page.index)


def test_a_wrong_filter_is_said_at_its_field_and_lists_nothing(reader: Client, shelves: None) -> None:
    for query in ({"on_hand__gte": "many"}, {"condition": "rusty"}, {"last_counted_at__lte": "soon"}):
        answer = reader.get("/lists/stock/", {"storeroom": "", **query})
        page = answer.content.decode()
        assert (answer.status_code, numbers_on(page)) == (200, [])
        assert f'href="#list-{next(iter(query))}"' in page


def test_a_list_keeps_to_what_its_reader_may_see(reader: Client, shelves: None) -> None:
    reach = Reach.objects.create(user=UserFactory())
    reach.storerooms.set([StoreroomFactory(code="KILN")])
    assert numbers_on(text(reader, "/lists/stock/")) == ["SPR-3"]
    assert "SPR-1" not in csv_of(reader, {})


def test_an_unknown_list_or_form_is_not_found(reader: Client) -> None:
    assert reader.get("/lists/secrets/").status_code == 404
    assert reader.get("/lists/secrets.csv").status_code == 404
    assert reader.get("/lists/stock.pdf").status_code == 404
