"""Labels: true to size on paper, and what is scanned from one leads to what it hangs on."""

from itertools import pairwise

import pytest
from django.template.loader import render_to_string
from django.test import Client
from playwright.sync_api import Browser

from api.screens.paper.emergency import styles_of
from api.screens.paper.label_sheets import SHEETS, Label, laid_out
from api.screens.paper.labels import LabelOptions
from tests import factories as make
from tests.printed_pdf import page_count, page_sizes_mm, rectangles_mm

WITHIN = 0.002
LONG = Label("41-0115", ("SPROCKET, ROLLER CHAIN, #80, 22T, TYPE B, 2-3/16 " * 3, "LW-MAIN A-01-1"))


@pytest.mark.browser
@pytest.mark.parametrize("name", SHEETS)
def test_a_printed_label_stands_where_its_sheet_has_it(browser: Browser, name: str) -> None:
    sheet = SHEETS[name]
    options = LabelOptions(name, 1, True, ())
    pages = laid_out([LONG] * (sheet.count + 1), sheet, 1)
    page = browser.new_page()
    page.set_content(
        render_to_string(
            "paper/labels_file.html",
            {"pages": pages, "options": options, "styles": styles_of("tokens.css", "labels.css")},
        )
    )
    pdf = page.pdf(prefer_css_page_size=True)
    page.close()
    assert page_count(pdf) == 2
    assert page_sizes_mm(pdf) == [pytest.approx((210, 297), rel=WITHIN)] * 2
    shown = [box for box in rectangles_mm(pdf) if box[2] < 209]
    expected = [(*sheet.corner(place), sheet.width, sheet.height) for place in [*range(sheet.count), 0]]
    assert len(shown) == len(expected)
    for box, place in zip(shown, expected, strict=True):
        assert box == pytest.approx(place, rel=WITHIN, abs=0.02)


def test_labels_of_a_sheet_lie_on_the_paper_and_beside_each_other() -> None:
    for name, sheet in SHEETS.items():
        corners = [sheet.corner(place) for place in range(sheet.count)]
        assert max(x for x, _y in corners) + sheet.width <= 210 + 1e-9, name
        assert max(y for _x, y in corners) + sheet.height <= 297, name
        assert all(b[0] - a[0] >= sheet.width for a, b in pairwise(corners) if a[1] == b[1]), name


def test_a_sheet_that_is_begun_goes_on_at_its_first_free_label() -> None:
    pages = laid_out([LONG] * 4, SHEETS["2x4"], 7)
    assert [[one.place for one in page] for page in pages] == [[6, 7], [0, 1]]


@pytest.mark.django_db
def test_what_is_scanned_from_a_label_leads_to_its_item(client: Client) -> None:
    client.force_login(make.AdminFactory())
    room = make.StoreroomFactory(code="NORTH")
    item = make.ItemFactory(stock_number="SPR-0077")
    make.stock(item, room, 2)
    shelf = make.BinFactory(storeroom=room, code="K-04-2")
    item.levels.update(bin=shelf)
    for address, code in (("/labels/items/?number=SPR-0077", "SPR-0077"), ("/labels/bins/", "K-04-2")):
        (label,) = client.get(address).context["pages"][0]
        assert label.label.number == code
        assert client.get("/", {"q": label.label.number})["Location"] == "/items/SPR-0077/"
    wrong = client.get("/labels/bins/?sheet=3x8&first=25")
    assert wrong.status_code == 400
    assert "The first free label must be a number from 1 to 24." in wrong.content.decode()
