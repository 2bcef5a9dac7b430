import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from inventory.models import (
    CountTask,
    DeliveryCheck,
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
    StockEntry,
    StockingRun,
    StockingTerms,
    StockLevel,
    StockPiece,
    Storeroom,
    SupplyOrder,
)
from inventory.stores import ledger
from tests import movements
from tests.admin_pages import MOST_QUERIES, address, costs_of_lists, models_of, queries_of
from tests.factories import (
    MORNING,
    AdminFactory,
    BinFactory,
    ChainItemFactory,
    DeliveryCheckFactory,
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
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db
READ_ONLY = [
    *(StockLevel, StockPiece, StockEntry, Reservation),
    *(SupplyOrder, DeliveryCheck, StockingRun, Recommendation),
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
        DeliveryCheckFactory(order=SupplyOrderFactory(item=item, storeroom=main))
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


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    def make():
        a_week_of_work(1)
        PlantSettingFactory()
        RuleFactory()
        ShopTimeFactory()
        TransferTimeFactory()
        ServiceTargetFactory()
        StockingTermsFactory()

    with shared_rows(django_db_blocker, make):
        yield


@pytest.fixture(scope="module")
def costs(house, django_db_blocker):
    with shared_rows(
        django_db_blocker, lambda: costs_of_lists("inventory", lambda: a_week_of_work(2))
    ) as found:
        return found


def test_every_record_has_its_page():
    assert set(apps.get_app_config("inventory").get_models()) <= set(admin.site._registry)


@pytest.mark.sqlite
@pytest.mark.parametrize("model", models_of("inventory"))
def test_lists_cost_the_same_whatever_their_length(costs, model):
    before, longer = costs[model]
    assert longer == before <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("inventory"))
def test_one_record_can_be_looked_at(ines, house, model):
    assert queries_of(ines, address(model, "change", model.objects.first().pk)) <= MOST_QUERIES


@pytest.mark.parametrize("model", models_of("inventory"))
def test_every_list_can_be_searched(ines, house, model):
    assert queries_of(ines, address(model, "changelist") + "?q=08B") <= MOST_QUERIES


@pytest.mark.parametrize("model", WRITABLE)
def test_a_record_can_be_added(ines, house, model):
    assert queries_of(ines, address(model, "add")) <= MOST_QUERIES


@pytest.mark.parametrize("model", READ_ONLY)
@pytest.mark.parametrize("page", ["add", "delete"])
def test_what_the_ledger_writes_cannot_be_written_here(ines, house, model, page):
    url = address(model, page) if page == "add" else address(model, page, model.objects.first().pk)
    assert ines.get(url).status_code == 403
    assert ines.post(url, {"post": "yes"}).status_code == 403


@pytest.mark.parametrize("model", READ_ONLY)
def test_a_change_sent_to_a_read_only_page_is_refused(ines, house, model):
    row = model.objects.first()
    assert ines.post(address(model, "change", row.pk), {"on_hand": 99}).status_code == 403


def test_a_list_of_items_shows_what_is_free(ines, house):
    page = ines.get(address(Item, "changelist")).content.decode()
    assert '<td class="field-shown_available">3</td>' in page


def test_a_list_of_questions_shows_what_to_measure(ines, house):
    FitQuestion.objects.update(measure_fact={"code": "measure_bore_and_shaft", "values": {}})

    assert "measure bore and shaft" in ines.get(address(FitQuestion, "changelist")).content.decode()


def test_an_item_with_history_cannot_be_deleted(ines, house):
    item = Item.objects.first()
    ines.post(address(Item, "delete", item.pk), {"post": "yes"})
    assert Item.objects.filter(pk=item.pk).exists()


@pytest.mark.parametrize("page", ["index", "password_change", "app_list"])
def test_the_other_pages_hold_nothing_inline_either(ines, house, page):
    url = reverse(f"admin:{page}", kwargs={"app_label": "inventory"} if page == "app_list" else None)
    assert queries_of(ines, url) <= MOST_QUERIES


@pytest.mark.parametrize("page", ["delete", "history"])
def test_pages_about_one_record_hold_nothing_inline(ines, house, page):
    assert queries_of(ines, address(Item, page, Item.objects.first().pk)) <= 2 * MOST_QUERIES


def test_the_way_in_holds_nothing_inline(client):
    assert queries_of(client, reverse("admin:login")) <= MOST_QUERIES
