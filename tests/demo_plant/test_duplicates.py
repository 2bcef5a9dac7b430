"""The twins of the demo plant are found by their specifications, made one number on a page, and taken apart again."""

import re

import pytest
from django.contrib.auth import get_user_model
from django.test import Client
from django.utils import timezone

from drives.demand.needs import needs_of
from drives.demand.snapshot import load_demand_snapshot
from inventory.models import DuplicateGroup, DuplicateMember, Item, Likeness, Merge, StockLevel
from inventory.stores.ledger.verify import verify

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]
PAGE = "/planning/duplicates/"
STAYS, GO = "41-0215", ["S-010442", "LW-200817"]


@pytest.fixture
def client() -> Client:
    client = Client()
    client.force_login(get_user_model().objects.get(username="demo-manager"))
    return client


def on_hand(number: str) -> int:
    levels = StockLevel.objects.of_item(Item.objects.get(stock_number=number))
    return levels.totals().on_hand


def words(client: Client, address: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", client.get(address).content.decode()).split())


def test_every_twin_is_found() -> None:
    twins = set(Item.objects.filter(stock_number__regex=r"^(S|LW)-").values_list("stock_number", flat=True))
    found = dict(DuplicateMember.objects.values_list("item__stock_number", "group__likeness"))
    assert len(twins) == 100
    assert twins <= found.keys()
    assert sum(found[number] == Likeness.EQUAL for number in twins) >= 90


def test_no_other_pair_is_called_equal() -> None:
    equal = DuplicateGroup.objects.filter(likeness=Likeness.EQUAL).prefetch_related("members__item")
    numbers = [{one.item.stock_number for one in group.members.all()} for group in equal]
    assert [group for group in numbers if not any(number.startswith(("S-", "LW-")) for number in group)] == []


def test_duplicates_worth_merging_ends_on_a_page(client: Client) -> None:
    assert "kept under another number too. See duplicates" in words(client, f"/items/{STAYS}/")
    group = DuplicateGroup.objects.get(members__item__stock_number=STAYS)
    text = words(client, PAGE)
    shown = text[text.index("41-0215, LW-200817, S-010442") :]
    assert "Equal" in shown
    assert [(number, on_hand(number)) for number in (STAYS, *GO)] == [(STAYS, 3), (GO[0], 2), (GO[1], 4)]
    assert group.pieces_together < 9

    items = {one.stock_number: one.pk for one in Item.objects.filter(stock_number__in=[STAYS, *GO])}
    sent = {
        "group": group.pk,
        "stays": items[STAYS],
        "goes": [items[one] for one in GO],
        "reason": "one sprocket",
    }
    assert client.post(PAGE, sent).status_code == 302
    assert [on_hand(number) for number in (STAYS, *GO)] == [9, 0, 0]
    assert "Its number is merged into 41-0215" in words(client, f"/items/{GO[0]}/")
    assert "Old numbers of this item: LW-200817, S-010442" in words(client, f"/items/{STAYS}/").replace(
        " ,", ","
    )
    assert (
        not DuplicateGroup.objects.get(pk=group.pk).members.filter(item__merged_into__isnull=True).count() > 1
    )
    part = [
        need for need in needs_of(load_demand_snapshot(timezone.now())) if items[STAYS] in need.member_ids
    ]
    assert {frozenset(items.values())} == {frozenset(need.member_ids) for need in part}
    assert {need.item_id for need in part} == {items[STAYS]}
    assert verify() == ()

    for made in Merge.objects.order_by("-pk"):
        assert client.post(PAGE, {"merge": made.pk, "reason": "kept apart after all"}).status_code == 302
    assert [on_hand(number) for number in (STAYS, *GO)] == [3, 2, 4]
    assert words(client, PAGE).count("Undone by demo-manager") == 2
    assert verify() == ()
