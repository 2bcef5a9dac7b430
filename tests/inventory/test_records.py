import math
from datetime import time

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError
from django.db.models.constraints import BaseConstraint

from inventory.models import Item, Reservation, Specification, StockEntry, StockLevel, with_stock_totals
from inventory.stores import ledger
from tests import movements
from tests.factories import (
    MORNING,
    BinFactory,
    ChainItemFactory,
    ItemFactory,
    KeyFactory,
    MachineShopFactory,
    OpeningHoursFactory,
    ReservationFactory,
    RuleFactory,
    ShopTimeFactory,
    SprocketFactory,
    StockLevelFactory,
    StoreroomFactory,
    TransferTimeFactory,
    stock,
)
from tests.violations import refused_by_the_database, words_of

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"

VIOLATIONS = [
    (SprocketFactory, {"teeth": 5}, "teeth must be from 6 to 400."),
    (SprocketFactory, {"teeth": 401}, "teeth must be from 6 to 400."),
    (SprocketFactory, {"strands": 0}, "strands must be from 1 to 10."),
    (SprocketFactory, {"set_screws": 9}, "set_screws must be from 0 to 8."),
    (SprocketFactory, {"bore_mm": 0}, "bore_mm must be greater than 0, or empty if it is not known."),
    (SprocketFactory, {"bore_mm": 29}, "max_bore_mm must not be smaller than bore_mm."),
    (SprocketFactory, {"mass_kg": -1}, "mass_kg must be greater than 0"),
    (SprocketFactory, {"kind": "gear"}, "kind must be one of sprocket, bush"),
    (SprocketFactory, {"hub_style": "E"}, "hub_style must be one of A, B, C, D"),
    (SprocketFactory, {"bore_type": "oval"}, "bore_type must be one of plain"),
    (SprocketFactory, {"material": "wood"}, "material must be one of carbon_steel"),
    (SprocketFactory, {"key_standard": "ISO 1"}, "key_standard must be one of ISO 773"),
    (SprocketFactory, {"role_kind": "rider"}, "role_kind must be one of drive, idler."),
    (KeyFactory, {"key_length_mm": -2}, "key_length_mm must be greater than 0"),
    (ItemFactory, {"stock_number": ""}, "stock_number must not be empty."),
    (ItemFactory, {"unit_cost": -1}, "unit_cost must be 0 or more."),
    (ItemFactory, {"unit": "box"}, "unit must be one of each, link."),
    (ItemFactory, {"holding_reason": "habit"}, "holding_reason must be one of usage"),
    (ItemFactory, {"lifecycle": "gone"}, "lifecycle must be one of active"),
    (ItemFactory, {"lead_time_days": 0}, "lead_time_days must be from 1 to 3650."),
    (StoreroomFactory, {"pick_minutes": 10081}, "pick_minutes must be from 0 to 10080."),
    (StoreroomFactory, {"call_out_minutes": 10081}, "call_out_minutes must be from 0 to 10080."),
    (MachineShopFactory, {"call_out_minutes": 10081}, "call_out_minutes must be from 0 to 10080."),
    (OpeningHoursFactory, {"weekday": 7}, "weekday must be 0 (Monday) to 6 (Sunday)."),
    (OpeningHoursFactory, {"storeroom": None}, "belong to a storeroom or to a machine shop, not to both."),
    (OpeningHoursFactory, {"opens": time(22), "closes": time(6)}, "enter a night shift as two weekdays."),
    (TransferTimeFactory, {"minutes": 10081}, "minutes must be from 0 to 10080."),
    (RuleFactory, {"value": 2e9}, "value must be a number from -1e9 to 1e9."),
    (ShopTimeFactory, {"minutes": 10081}, "minutes must be from 0 to 10080."),
    (ShopTimeFactory, {"operation": "polish"}, "operation must be one of bore"),
    (ShopTimeFactory, {"basis": "guess"}, "basis must be one of estimate, recorded."),
    (StockLevelFactory, {"on_hand": -1}, "There is not enough on the shelf."),
    (StockLevelFactory, {"on_hand": 1, "reserved": 2}, "The rest is reserved for other work."),
    (StockLevelFactory, {"on_hand": 10**9 + 1}, "on_hand must be at most 1000000000."),
    (StockLevelFactory, {"condition": "shiny"}, "condition must be one of new"),
    (ReservationFactory, {"quantity": 0, "open_quantity": 0}, "quantity must be at least 1."),
    (ReservationFactory, {"open_quantity": 2}, "open_quantity must not exceed quantity."),
    (ReservationFactory, {"open_quantity": -1}, "open_quantity must be 0 or more."),
    (
        ReservationFactory,
        {"state": "used"},
        "An open reservation has an open quantity, an ended one has none.",
    ),
    (ReservationFactory, {"open_quantity": 0}, "An open reservation has an open quantity"),
    (ReservationFactory, {"work_order": ""}, "Give the work order of the reservation."),
    (ReservationFactory, {"state": "lost"}, "state must be one of open"),
    (ReservationFactory, {"quantity": 10**9 + 1}, "quantity must be at most 1000000000."),
    (ReservationFactory, {"condition": "shiny"}, "condition must be one of new"),
]
NAMES = [f"{factory.__name__}-{'-'.join(wrong)}-{n}" for n, (factory, wrong, _) in enumerate(VIOLATIONS)]


@pytest.mark.parametrize(("factory", "wrong", "sentence"), VIOLATIONS, ids=NAMES)
def test_the_database_refuses_a_wrong_value(factory, wrong, sentence):
    refused_by_the_database(factory(), wrong)


@pytest.mark.parametrize(("factory", "wrong", "sentence"), VIOLATIONS, ids=NAMES)
def test_a_wrong_value_is_refused_in_words(factory, wrong, sentence):
    if sentence_of_choice(factory, wrong):
        sentence = "is not a valid choice"
    assert sentence in words_of(factory(), wrong) or is_said_by_the_field(factory, wrong, sentence)


def sentence_of_choice(factory, wrong) -> bool:
    """Fields with choices say so in Django's own words before the constraint is asked."""
    fields = [factory._meta.model._meta.get_field(name) for name in wrong]
    return any(field.choices and wrong[field.name] not in dict(field.flatchoices) for field in fields)


def is_said_by_the_field(factory, wrong, sentence) -> bool:
    """Blank and too small numbers are refused by the field itself, in Django's own words."""
    words = words_of(factory(), wrong)
    return "cannot be blank" in words or "greater than or equal to 0" in words


def entry_values(**changes):
    values = {
        "kind": "receipt",
        "item": ItemFactory(),
        "storeroom": StoreroomFactory(),
        "change": 2,
        "balance_after": 2,
        "occurred_at": MORNING,
    }
    return values | changes


ENTRY_VIOLATIONS = [
    ({"balance_after": -1}, "A movement must not make the stock negative."),
    ({"balance_after": 10**9 + 1}, "balance_after must be at most 1000000000."),
    ({"kind": "gift"}, "kind must be one of receipt"),
    ({"condition": "shiny"}, "condition must be one of new"),
    ({"reason_code": "whim"}, "reason_code must be one of not_needed"),
    ({"kind": "count"}, "A count needs the counted quantity: give counted."),
    ({"change": -2}, "A receipt or a return adds stock, an issue or a scrap removes it."),
    ({"kind": "issue"}, "A receipt or a return adds stock, an issue or a scrap removes it."),
    ({"kind": "transfer"}, "A transfer, and only a transfer, names its other storeroom."),
    ({"unit_cost": -1}, "unit_cost must be 0 or more."),
]


@pytest.mark.parametrize(("wrong", "sentence"), ENTRY_VIOLATIONS)
def test_the_ledger_refuses_entries_that_contradict_themselves(wrong, sentence):
    words = words_of(StockEntry(**entry_values()), wrong)
    assert sentence in words or "valid choice" in words or "greater than or equal to 0" in words
    with pytest.raises(IntegrityError), transaction.atomic():
        StockEntry.objects.create(**entry_values(**wrong))


def test_a_reference_is_known_once_in_a_storeroom():
    StockEntry.objects.create(**entry_values(reference="DEL-1"))
    again = StockEntry(**entry_values(reference="DEL-1"))
    assert "A movement of that reference is booked already." in words_of(again, {})
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save()


@pytest.mark.parametrize(
    ("factory", "sentence"),
    [
        (lambda: BinFactory(code="A-01"), "This storeroom already has a bin of that code."),
        (TransferTimeFactory, "This transfer time is recorded already: change that row."),
        (
            lambda: StockLevelFactory(item=ItemFactory(stock_number="SPR-1")),
            "This item already has a row in that storeroom and condition.",
        ),
    ],
)
def test_a_second_row_of_the_same_key_is_refused(factory, sentence):
    row = factory()
    row.pk, row._state.adding = None, True
    assert sentence in words_of(row, {})
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_a_way_needs_two_storerooms():
    way = TransferTimeFactory()
    assert "A transfer needs two different storerooms." in words_of(way, {"to_storeroom": way.from_storeroom})
    refused_by_the_database(way, {})


def test_an_item_is_not_replaced_by_itself_or_in_a_circle():
    first, second = ItemFactory(), ItemFactory()
    second.replaced_by = first
    second.save()
    assert "correct one of the two first" in words_of(first, {"replaced_by": second})
    assert "correct one of the two first" in words_of(first, {"replaced_by": first})
    refused_by_the_database(first, {"replaced_by": first})


def test_pieces_do_not_become_links_once_they_are_booked():
    item = ItemFactory()
    stock(item, StoreroomFactory(), 1)
    assert "create a new item for the other unit" in words_of(item, {"unit": "link"})


@pytest.mark.parametrize("number", [math.nan, math.inf])
def test_a_rule_takes_numbers_only(number):
    refused_by_the_database(RuleFactory(), {"value": number})


def test_a_time_zone_and_a_currency_are_known():
    assert "is not a time zone" in words_of(StoreroomFactory(), {"timezone": "Weir/Lane"})
    assert "three capitals" in words_of(ItemFactory(), {"currency": "euro"[:3]})


def test_every_constraint_says_what_to_do():
    models = [*apps.get_app_config("inventory").get_models(), *apps.get_app_config("drives").get_models()]
    silent = [
        constraint.name
        for model in models
        for constraint in model._meta.constraints
        if constraint.violation_error_message == BaseConstraint.default_violation_error_message
    ]
    assert silent == []


def test_what_has_history_is_protected():
    item, main = ItemFactory(), StoreroomFactory()
    stock(item, main, 1)
    for row in (item, main, item.specification):
        with pytest.raises(ProtectedError):
            row.delete()


@pytest.mark.parametrize(
    ("asked", "answered", "pitch_mm"), [("40", "08A", 12.7), ("08b", "08B", 12.7), ("60", "12A", 19.05)]
)
def test_a_designation_is_adopted_and_fills_the_dimensions(asked, answered, pitch_mm):
    row = Specification(kind="sprocket", chain_designation=asked)
    row.full_clean()
    assert (row.chain_designation, float(row.pitch_mm)) == (answered, pitch_mm)


def test_an_unknown_designation_is_refused_in_words():
    assert "08Z" in words_of(Specification(kind="sprocket"), {"chain_designation": "08Z"})


def test_dimensions_that_contradict_the_designation_are_refused():
    words = words_of(Specification(kind="sprocket", chain_designation="08B"), {"pitch_mm": 15})
    assert words == "15 mm is not 08B, which has 12.7 mm: leave out one of the two."


@pytest.fixture
def shelves():
    item, chain = ItemFactory(stock_number="SPR-1"), ChainItemFactory(stock_number="CHN-1")
    main, north = StoreroomFactory(code="MAIN"), StoreroomFactory(code="NORTH")
    stock(item, main, 3)
    stock(item, north, 4, condition="used_serviceable")
    stock(item, north, 2, condition="on_hold")
    stock(chain, main, 100)
    ledger.reserve(item, main, 3, work_order="WO-1", by=MARTA)
    return item, chain


def test_questions_about_stock_read_as_sentences(shelves):
    item, chain = shelves
    levels = StockLevel.objects
    assert [level.on_hand for level in levels.of_item(item).available()] == [4]
    assert not levels.of_item(item).available().filter(storeroom__code="MAIN").exists()
    assert [level.on_hand for level in levels.filter(storeroom__code="MAIN").available()] == [100]
    totals = levels.of_item(item).totals()
    assert (totals.on_hand, totals.reserved, totals.available) == (9, 3, 4)
    assert levels.none().totals().on_hand == 0
    assert sorted(levels.with_available().values_list("free", flat=True)) == [0, 0, 4, 100]
    assert Reservation.objects.open().of_work_order("WO-1").with_places().get().item == item
    assert StockEntry.objects.of_item(chain).filter(storeroom__code="MAIN").not_reversed().count() == 1
    assert not StockEntry.objects.issues().exists()


def test_items_come_with_their_totals_in_one_query(shelves, django_assert_num_queries):
    ItemFactory(stock_number="SPR-2")
    with django_assert_num_queries(1):
        totals = {
            item.stock_number: (item.on_hand, item.reserved, item.available)
            for item in with_stock_totals(Item.objects.all())
        }
    assert totals == {"SPR-1": (9, 3, 4), "CHN-1": (100, 0, 100), "SPR-2": (0, 0, 0)}


def test_what_is_lent_out_is_missed_after_its_day(shelves):
    item, _ = shelves
    north = StoreroomFactory(code="NORTH")
    lent = movements.issue(
        item, north, 1, by=MARTA, condition="used_serviceable", expected_back_on=MORNING.date()
    ).entry
    assert list(StockEntry.objects.overdue(MORNING.date())) == []
    next_day = MORNING.date().replace(day=MORNING.day + 1)
    assert list(StockEntry.objects.overdue(next_day)) == [lent]
    ledger.reverse(lent, by=MARTA, reason="never left")
    assert list(StockEntry.objects.overdue(next_day)) == []
