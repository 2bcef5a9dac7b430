import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from inventory.models import (
    CountTask,
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    Event,
    FitQuestion,
    Item,
    Kit,
    Lease,
    Merge,
    MergeLine,
    Recommendation,
    Reservation,
    RunDown,
    Specification,
    StockEntry,
    StockingRun,
    StockingTerms,
    StockLevel,
    StockPiece,
    StockPolicy,
    Storeroom,
    SupplyOrder,
)
from inventory.stores import ledger
from tests import movements
from tests.admin_pages import MOST_QUERIES, address, models_of, queries_of
from tests.factories import (
    MORNING,
    AdminFactory,
    BinFactory,
    ChainItemFactory,
    ItemFactory,
    OpeningHoursFactory,
    PlantSettingFactory,
    RecommendationFactory,
    RuleFactory,
    ServiceTargetFactory,
    ShopTimeFactory,
    StockingTermsFactory,
    StockPolicyFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    TransferTimeFactory,
    stock,
)

pytestmark = pytest.mark.django_db
READ_ONLY = [
    *(StockLevel, StockPiece, StockEntry, Reservation),
    *(SupplyOrder, StockingRun, Recommendation),
    *(Event, Kit, CountTask, FitQuestion, Lease, RunDown),
    *(DuplicateGroup, DuplicateMember, DuplicateShelf, Merge, MergeLine),
]
WRITABLE = [model for model in models_of("inventory") if model not in (*READ_ONLY, StockingTerms)]
MARTA = "Marta Keller"


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


def a_week_of_work(number: int) -> None:
    """Rows in every table: deliveries, an issue, a reservation, bins and hours, orders and how many to keep."""
    main, north = StoreroomFactory(code="MAIN"), StoreroomFactory(code="NORTH")
    for _ in range(number):
        item, chain = ItemFactory(), ChainItemFactory()
        stock(item, main, 4, bin=BinFactory(storeroom=main))
        stock(chain, main, 100)
        movements.transfer(item, main, north, 1, by=MARTA)
        ledger.reserve(item, main, 1, work_order="WO-1", by=MARTA)
        OpeningHoursFactory(storeroom=north)
        SupplyOrderFactory(item=item, storeroom=main)
        StockPolicyFactory(item=item, storeroom=main)
        RecommendationFactory(item=item, storeroom=main)
        looked_after(item, main)


def looked_after(item: Item, storeroom: Storeroom) -> None:
    number = item.stock_number
    Event.objects.create(type="stock.moved", aggregate=number, version=1, occurred_at=MORNING)
    Kit.objects.create(work_order=number, storeroom=storeroom)
    CountTask.objects.create(item=item, storeroom=storeroom, cause="asked", due_on=MORNING.date())
    entry = StockEntry.objects.filter(item=item).first()
    FitQuestion.objects.create(item=item, storeroom=storeroom, entry=entry)
    RunDown.objects.create(item=item, reason="41-0105 serves", marked_by_name=MARTA)
    Lease.objects.create(name=number, holder="here", until=MORNING)
    group = DuplicateGroup.objects.create(likeness="equal", found_at=MORNING)
    DuplicateMember.objects.create(group=group, item=item)
    DuplicateShelf.objects.create(group=group, storeroom=storeroom, pieces_together=1)
    merge = Merge.objects.create(
        item=item, into=ItemFactory(), reason="one part", merged_at=MORNING, merged_by_name=MARTA
    )
    MergeLine.objects.create(merge=merge, step="stock", storeroom=storeroom)


@pytest.fixture
def full_house(db):
    a_week_of_work(1)
    PlantSettingFactory()
    RuleFactory()
    ShopTimeFactory()
    TransferTimeFactory()
    ServiceTargetFactory()
    StockingTermsFactory()


def test_every_record_has_its_page():
    assert set(apps.get_app_config("inventory").get_models()) <= set(admin.site._registry)


@pytest.mark.parametrize("model", models_of("inventory"))
def test_lists_cost_the_same_whatever_their_length(ines, full_house, model):
    before = queries_of(ines, address(model, "changelist"))
    a_week_of_work(2)
    assert queries_of(ines, address(model, "changelist")) == before <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("inventory"))
def test_one_record_can_be_looked_at(ines, full_house, model):
    assert queries_of(ines, address(model, "change", model.objects.first().pk)) <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("inventory"))
def test_every_list_can_be_searched(ines, full_house, model):
    assert queries_of(ines, address(model, "changelist") + "?q=08B") <= MOST_QUERIES


@pytest.mark.parametrize("model", WRITABLE)
def test_a_record_can_be_added(ines, full_house, model):
    assert queries_of(ines, address(model, "add")) <= MOST_QUERIES


@pytest.mark.parametrize("model", READ_ONLY)
@pytest.mark.parametrize("page", ["add", "delete"])
def test_what_the_ledger_writes_cannot_be_written_here(ines, full_house, model, page):
    url = address(model, page) if page == "add" else address(model, page, model.objects.first().pk)
    assert ines.get(url).status_code == 403
    assert ines.post(url, {"post": "yes"}).status_code == 403


@pytest.mark.parametrize("model", READ_ONLY)
def test_a_change_sent_to_a_read_only_page_is_refused(ines, full_house, model):
    row = model.objects.first()
    assert ines.post(address(model, "change", row.pk), {"on_hand": 99}).status_code == 403


def test_a_list_of_items_shows_what_is_free(ines, full_house):
    page = ines.get(address(Item, "changelist")).content.decode()
    assert '<td class="field-shown_available">3</td>' in page


def test_a_list_of_questions_shows_what_to_measure(ines, full_house):
    FitQuestion.objects.update(measure_fact={"code": "measure_bore_and_shaft", "values": {}})

    assert "measure bore and shaft" in ines.get(address(FitQuestion, "changelist")).content.decode()


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


def test_an_item_with_history_cannot_be_deleted(ines, full_house):
    item = Item.objects.first()
    ines.post(address(Item, "delete", item.pk), {"post": "yes"})
    assert Item.objects.filter(pk=item.pk).exists()


@pytest.mark.parametrize("page", ["index", "password_change", "app_list"])
def test_the_other_pages_hold_nothing_inline_either(ines, full_house, page):
    url = reverse(f"admin:{page}", kwargs={"app_label": "inventory"} if page == "app_list" else None)
    assert queries_of(ines, url) <= MOST_QUERIES


@pytest.mark.parametrize("page", ["delete", "history"])
def test_pages_about_one_record_hold_nothing_inline(ines, full_house, page):
    assert queries_of(ines, address(Item, page, Item.objects.first().pk)) <= 2 * MOST_QUERIES


def test_the_way_in_holds_nothing_inline(client):
    assert queries_of(client, reverse("admin:login")) <= MOST_QUERIES
