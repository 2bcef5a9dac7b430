"""What is printed: true to scale within 0.2 %, and as many pages as it needs."""

from collections import Counter
from math import atan2, pi, sin

import pytest
from playwright.sync_api import expect

from inventory.standards.chains import find_chain
from inventory.standards.rim_outline import smallest_gap
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_form import tooth_form
from tests.browser.plant import small_plant
from tests.factories import ItemFactory, SprocketFactory
from tests.printed_pdf import page_count, page_sizes_mm, paths

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WITHIN = 0.002
RULE_TICKS = 151 + 49


def printed(page):
    return page.pdf(prefer_css_page_size=True, print_background=True)


def rules(found):
    """The rule of each sheet, as the path of one line and all ticks."""
    return [path for path in found if len(path.places) == 2 * (RULE_TICKS + 1)]


def test_a_template_is_printed_true_to_scale(open_page):
    plant = small_plant()
    page = open_page(f"/items/{plant.drop_in.stock_number}/template/", session=plant.session)

    pdf = printed(page)
    found = paths(pdf)

    assert page_count(pdf) == 1
    assert page_sizes_mm(pdf) == [pytest.approx((210, 297), abs=0.2)]
    (rule,) = rules(found)
    assert rule.width_mm == pytest.approx(6 * MM_PER_INCH, rel=WITHIN)
    part = plant.drop_in.specification
    form = tooth_form(find_chain(part.chain_designation), part.teeth)
    outside = float(part.outside_diameter_mm or form.outside_diameter_mm)
    # The outline of the most metal: four arcs a tooth, each ending on the tip circle or on the seat.
    outline = max(
        (path for path in found if len(path.places) > 4 * part.teeth and path.width_mm < outside),
        key=lambda path: path.height_mm,
    )
    gap = smallest_gap(form, outside)
    tip = atan2(gap.flank_end[1], gap.flank_end[0])
    turns = [
        n * pi / part.teeth + side * (pi / part.teeth - tip)
        for n in range(0, 2 * part.teeth, 2)
        for side in (-1, 1)
    ]
    expected = 2 * max(gap.tip_radius_mm * sin(turn) for turn in turns)
    assert outline.width_mm == pytest.approx(expected, rel=WITHIN)


def test_a_rim_larger_than_the_sheet_is_printed_as_its_top_and_its_middle(open_page):
    plant = small_plant()
    ItemFactory(stock_number="41-0990", specification=SprocketFactory(teeth=57))
    page = open_page("/items/41-0990/template/", session=plant.session)

    pdf = printed(page)
    tips = tooth_form(find_chain("08B"), 57).outside_diameter_mm

    assert page_count(pdf) == 2
    assert max(path.width_mm for path in paths(pdf) if len(path.places) > 100) == pytest.approx(
        tips, rel=0.03
    )
    assert page.get_by_text("sheet 1 of 2").is_visible()
    assert [rule.width_mm for rule in rules(paths(pdf))] == pytest.approx([6 * MM_PER_INCH] * 2, rel=WITHIN)


def test_all_of_a_large_rim_is_printed_on_sheets_that_join(open_page):
    plant = small_plant()
    ItemFactory(stock_number="41-0990", specification=SprocketFactory(teeth=57))
    page = open_page("/items/41-0990/template/?all=1", session=plant.session)

    pdf = printed(page)
    found = paths(pdf)

    assert page_count(pdf) == 4
    assert [page.get_by_text(f"of 4 {name}").is_visible() for name in ("A1", "A2", "B1", "B2")] == [True] * 4
    assert [rule.width_mm for rule in rules(found)] == pytest.approx([6 * MM_PER_INCH] * 4, rel=WITHIN)
    # Each sheet shows its window of one rim, a tooth on top; all have the line of joining through its axis.
    outside = tooth_form(find_chain("08B"), 57).outside_diameter_mm
    rims = [path for path in found if path.width_mm == pytest.approx(outside, rel=WITHIN)]
    joins = [
        path for path in found if len(path.places) == 4 and path.width_mm == pytest.approx(190, rel=WITHIN)
    ]
    upright = [
        next(x for x, count in Counter(round(x, 3) for x, _ in path.places).items() if count == 2)
        for path in joins
    ]
    axes = [(min(x for x, _ in rim.places) + max(x for x, _ in rim.places)) / 2 for rim in rims]
    assert len(rims) == len(joins) == 4
    assert upright == pytest.approx(axes, abs=0.05)


def test_a_wear_strip_has_its_marks_where_the_worn_chain_ends(open_page):
    plant = small_plant()
    page = open_page("/drives/STEEP-EL1-D1/wear-strip/", session=plant.session)

    pdf = printed(page)
    upright = [path for path in paths(pdf) if len(path.places) == 2 and path.width_mm < 0.01]
    xs = sorted({round(path.places[0][0], 3) for path in upright})

    assert page_count(pdf) == 1
    assert page_sizes_mm(pdf) == [pytest.approx((297, 210), abs=0.2)]
    new = 18 * 12.7
    assert xs[1] - xs[0] == pytest.approx(new, rel=WITHIN)
    assert [x - xs[1] for x in xs[1:]] == pytest.approx([new * n / 200 for n in range(7)], abs=0.02)


def test_one_sheet_is_one_page_in_german_too_with_a_job_in_hand(open_page):
    plant = small_plant()
    number = plant.drop_in.stock_number
    page = open_page("/positions/STEEP-EL1-D1-DRV/", session=plant.session, language="de")
    page.reload()
    expect(page.locator(".job")).to_be_visible()
    for path in (
        f"/positions/STEEP-EL1-D1-DRV/?part={number}",
        f"/labels/items/?number={number}",
    ):
        page.goto(path)
        assert (path, page_count(printed(page))) == (path, 1)
