import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.duplicates.groups import find_duplicates
from inventory.models import DuplicateGroup, Item, Merge, StockLevel
from tests import factories as make
from tests.api.screens.planning.test_decisions import client_of, plain, text_of
from tests.drives.duplicates.merged_plant import twins

pytestmark = pytest.mark.django_db
PATH = "/planning/duplicates/"


@pytest.fixture
def manager() -> Client:
    return client_of("manager")


@pytest.fixture
def pair() -> tuple[Item, Item]:
    found = twins()
    make.stock(found[0], make.StoreroomFactory(), 3)
    make.stock(found[1], make.StoreroomFactory(), 4)
    find_duplicates(timezone.now())
    return found


def form(pair: tuple[Item, Item], **more: object) -> dict[str, object]:
    group = DuplicateGroup.objects.get().pk
    return {
        "group": group,
        "stays": pair[1].pk,
        "goes": [one.pk for one in pair],
        "reason": "one part",
    } | more


def test_a_stranger_is_sent_to_the_login() -> None:
    assert Client().get(PATH)["Location"] == f"/login/?next={PATH}"


def test_before_the_first_search_it_says_when_it_comes(manager: Client) -> None:
    assert "the search runs every night" in text_of(manager.get(PATH))


def test_a_group_shows_its_numbers_stock_and_cost(pair: tuple[Item, Item], manager: Client) -> None:
    make.StockPolicyFactory(item=pair[0], storeroom=make.StoreroomFactory(), reorder_point=1, order_up_to=2)
    make.SupplyOrderFactory(item=pair[0])
    text = plain(text_of(manager.get(PATH)))
    assert "NEW-1, OLD-1" in text
    assert "270 EUR lie beyond one common stock" in text
    row = re.search(r"OLD-1 SPROCKET.*?MAIN (\d+) (\d+) (\d+ / \d+)", text)
    assert row is not None
    assert row.groups() == ("3", "0", "1 / 2")
    assert "1 open orders" in text


def test_the_groups_that_cost_most_come_first(manager: Client) -> None:
    for teeth, pieces in ((17, 1), (18, 9), (19, 4)):
        for part in ("A", "B"):
            item = make.ItemFactory(
                stock_number=f"{part}{teeth}", specification=make.SprocketFactory(teeth=teeth)
            )
            make.stock(item, make.StoreroomFactory(), pieces)
    find_duplicates(timezone.now())
    assert re.findall(r">(A\d+), B\d+<", text_of(manager.get(PATH))) == ["A18", "A19", "A17"]


def test_a_manager_merges_a_group_and_undoes_it_from_its_line(
    pair: tuple[Item, Item], manager: Client
) -> None:
    assert manager.post(PATH, form(pair)).status_code == 302
    made = Merge.objects.get()
    assert (made.item, made.into, made.merged_by_name) == (*pair, "the manager")
    undo_offered = text_of(manager.get(PATH))
    text = plain(undo_offered)
    assert "OLD-1 into NEW-1" in text
    assert f"merge-undo:{made.pk}" in undo_offered
    assert "Undo the merge of OLD-1" in text
    assert manager.post(PATH, {"merge": made.pk, "reason": "another hub"}).status_code == 302
    assert sorted(StockLevel.objects.values_list("item__stock_number", "on_hand")) == [
        ("NEW-1", 4),
        ("OLD-1", 3),
    ]
    assert "Undone by the manager" in plain(text_of(manager.get(PATH)))


def test_what_stands_in_the_way_is_said_where_it_was_sent(pair: tuple[Item, Item], manager: Client) -> None:
    sent = form(pair, reason=" ", stays=pair[0].pk, goes=[pair[1].pk], approved_by="Tomasz Wilk")
    page = text_of(manager.post(PATH, sent), 409)
    assert "Say why the two numbers are one part" in plain(page)
    chosen = re.findall(r'name="(stays|goes)" value="(\d+)" checked', page)
    assert chosen == [("stays", str(pair[0].pk)), ("goes", str(pair[1].pk))]
    assert 'value="Tomasz Wilk"' in page
    assert not Merge.objects.exists()


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"stays": "x"}, "Choose the number that stays."),
        ({"goes": []}, "Choose at least one number"),
        ({"group": 0}, "This group has changed since"),
        ({"merge": "99"}, "There is no such merge."),
    ],
)
def test_a_form_that_says_too_little_is_answered(
    sent: dict[str, object], said: str, pair: tuple[Item, Item], manager: Client
) -> None:
    answer = manager.post(PATH, form(pair) | sent)
    assert answer.status_code == 409
    assert not Merge.objects.exists()
    assert said in plain(answer.content.decode())


def test_near_equal_numbers_say_what_differs_and_need_the_engineer(manager: Client) -> None:
    first, _ = twins()
    other = make.ItemFactory(stock_number="NEW-2", specification=make.SprocketFactory(material=""))
    Item.objects.filter(stock_number="NEW-1").update(specification=None)
    find_duplicates(timezone.now())
    text = plain(text_of(manager.get(PATH)))
    assert "NEW-2 in place of OLD-1: needs review" in text
    sent = form((first, other))
    assert "Ask an engineer" in plain(text_of(manager.post(PATH, sent), 409))
    said = {"approved_by": "Tomasz Wilk", "approval_reason": "measured both"}
    assert manager.post(PATH, sent | said).status_code == 302
    assert "Engineer Tomasz Wilk: measured both" in plain(text_of(manager.get(PATH)))


@pytest.mark.parametrize("role", ["storeroom", "viewer"])
def test_others_read_and_do_not_merge(role: str, pair: tuple[Item, Item]) -> None:
    client = client_of(role)
    assert "Merge into one number" not in text_of(client.get(PATH))
    assert client.post(PATH, form(pair)).status_code == 403
    assert not Merge.objects.exists()


def test_the_old_number_leads_to_the_one_that_stays(pair: tuple[Item, Item], manager: Client) -> None:
    assert "See duplicates" in text_of(manager.get("/items/OLD-1/"))
    manager.post(PATH, form(pair))
    assert "Its number is merged into NEW-1 ." in plain(text_of(manager.get("/items/OLD-1/"))).replace(
        "NEW-1.", "NEW-1 ."
    )
    kept = plain(text_of(manager.get("/items/NEW-1/")))
    assert "Old numbers of this item: OLD-1" in kept
    assert "See duplicates" not in kept


def test_the_page_costs_a_fixed_number_of_queries(manager: Client) -> None:
    def groups(count: int) -> int:
        for teeth in range(17, 17 + count):
            for part in ("A", "B"):
                number = f"{part}{teeth}"
                item = make.ItemFactory(stock_number=number, specification=make.SprocketFactory(teeth=teeth))
                make.stock(item, make.StoreroomFactory(), 1)
        find_duplicates(timezone.now())
        with CaptureQueriesContext(connection) as queries:
            text_of(manager.get(PATH))
        return len(queries)

    few = groups(2)
    assert groups(8) == few
