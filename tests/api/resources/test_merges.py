from typing import Any

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken, Change
from drives.duplicates.groups import find_duplicates
from drives.duplicates.merging import merge
from inventory.models import DuplicateGroup, Item, Merge, StockEntry, StockLevel, StockPolicy
from tests import factories as make
from tests.api.records import API, errors, post
from tests.conftest import ClientFor
from tests.drives.duplicates.merged_plant import twins

pytestmark = pytest.mark.django_db
BODY = {"into": "NEW-1", "reason": "one part under two numbers"}


@pytest.fixture
def pair() -> tuple[Item, Item]:
    found = twins()
    make.stock(found[0], make.StoreroomFactory(), 3)
    return found


def limited_client(*codes: str) -> APIClient:
    """A manager who sees these storerooms alone."""
    token, secret = AccessToken.objects.issue("-".join(codes), role="manager")
    limit_to({"token": token}, [], [make.StoreroomFactory(code=code) for code in codes])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def merging(client: APIClient, body: dict[str, Any] = BODY, number: str = "OLD-1", key: str = "k-1") -> Any:
    return post(client, f"{API}items/{number}/merge/", body, key)


def test_a_merge_answers_with_its_steps(pair: Any, as_manager: APIClient) -> None:
    response = merging(as_manager)
    assert response.status_code == 201, response.content
    found = response.json()
    assert (found["item"], found["into"], found["state"], found["approved_by"]) == (
        "OLD-1",
        "NEW-1",
        "merged",
        None,
    )
    assert [(line["step"], line["storeroom"], line["quantity"]) for line in found["lines"]] == [
        ("stock", "MAIN", 3),
        ("item", None, 0),
    ]
    assert as_manager.get(response["Location"]).json() == found


def test_the_same_key_merges_once(pair: Any, as_manager: APIClient) -> None:
    first = merging(as_manager)
    again = merging(as_manager)
    assert (again.status_code, again.content) == (201, first.content)
    assert Merge.objects.count() == 1


def test_it_needs_a_key(pair: Any, as_manager: APIClient) -> None:
    assert as_manager.post(f"{API}items/OLD-1/merge/", BODY).status_code == 400


@pytest.mark.parametrize("role", ["storeroom", "integration", "viewer"])
def test_only_a_manager_merges(role: str, pair: Any, client_for: ClientFor) -> None:
    assert merging(client_for(role)).status_code == 403
    assert not Merge.objects.exists()


def test_every_bad_member_is_named(pair: Any, as_manager: APIClient) -> None:
    response = merging(as_manager, {"into": "NONE", "reason": "", "colour": "red"})
    assert response.status_code == 400
    assert {"/into", "/reason", "/colour"} <= set(errors(response))


@pytest.mark.parametrize(("into", "pointer"), [("OLD-1", "/into"), ("CHN-0", "/unit"), ("BSH-0", "/kind")])
def test_a_refusal_names_the_field_and_changes_nothing(
    into: str, pointer: str, pair: Any, as_manager: APIClient
) -> None:
    make.ChainItemFactory(stock_number="CHN-0"), make.BushItemFactory(stock_number="BSH-0")
    response = merging(as_manager, BODY | {"into": into})
    assert response.status_code == 400
    assert list(errors(response)) == [pointer]
    assert not Merge.objects.exists()
    assert StockLevel.objects.get().on_hand == 3


def test_a_doubt_is_said_and_asks_for_the_engineer(pair: Any, as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="NEW-2", specification=make.SprocketFactory(material=""))
    response = merging(as_manager, BODY | {"into": "NEW-2"})
    assert response.status_code == 400
    (said,) = errors(response).values()
    assert "Ask an engineer" in said
    assert "NEW-2 in place of OLD-1: needs review" in said
    yes = {"approved_by": "Tomasz Wilk", "approval_reason": "measured both"}
    done = merging(as_manager, BODY | {"into": "NEW-2"} | yes, key="k-2")
    assert done.status_code == 201, done.content
    assert done.json()["doubts"][0]["code"] == "not_alike"


def test_undone_it_is_as_before_and_says_so(pair: Any, as_manager: APIClient) -> None:
    address = merging(as_manager)["Location"]
    response = post(as_manager, f"{address}undo/", {"reason": "another hub"}, "k-2")
    assert response.status_code == 200, response.content
    assert (response.json()["state"], response.json()["undo_reason"]) == ("undone", "another hub")
    assert as_manager.get(f"{API}items/OLD-1/").json()["on_hand"] == 3


def test_what_stands_in_the_way_of_undoing_is_said(pair: Any, as_manager: APIClient) -> None:
    address = merging(as_manager)["Location"]
    issue = {"kind": "issue", "item": "NEW-1", "storeroom": "MAIN", "quantity": 2, "work_order": "WO-1"}
    assert post(as_manager, f"{API}movements/", issue, "k-2").status_code == 201
    response = post(as_manager, f"{address}undo/", {"reason": "another hub"}, "k-3")
    assert (response.status_code, response.json()["code"]) == (409, "merge_not_undone")
    assert "1 of 1 there are available" in response.json()["detail"]


def test_the_old_number_books_under_the_one_that_stays(pair: Any, as_manager: APIClient) -> None:
    merging(as_manager)
    issue = {"kind": "issue", "item": "OLD-1", "storeroom": "MAIN", "quantity": 1, "work_order": "WO-1"}
    response = post(as_manager, f"{API}movements/", issue, "k-2")
    assert response.status_code == 201, response.content
    assert (response.json()["item"], response.json()["balance_after"]) == ("NEW-1", 2)


def test_a_merged_number_says_where_it_went_and_cannot_be_opened_again(
    pair: Any, as_manager: APIClient
) -> None:
    merging(as_manager)
    response = as_manager.get(f"{API}items/OLD-1/")
    assert (response.json()["merged_into"], response.json()["lifecycle"]) == ("NEW-1", "blocked")
    changed = as_manager.patch(f"{API}items/OLD-1/", {"lifecycle": "active"}, HTTP_IF_MATCH=response["ETag"])
    assert changed.status_code == 400
    assert "undo the merge first" in str(changed.json())


def test_the_change_log_has_both_items_and_policies(pair: Any, as_manager: APIClient) -> None:
    make.StockPolicyFactory(item=pair[0], storeroom=make.StoreroomFactory())
    merging(as_manager)
    found = set(Change.objects.values_list("record", "key"))
    assert ("inventory.item", "OLD-1") in found
    assert any(record == "inventory.stockpolicy" for record, _ in found)


def test_who_sees_one_storeroom_does_not_merge_what_lies_in_another(pair: Any) -> None:
    make.stock(pair[1], make.StoreroomFactory(code="NORTH"), 1)
    client = limited_client("MAIN")
    assert merging(client).status_code == 403
    assert not Merge.objects.exists()


def test_a_merge_is_seen_with_all_its_storerooms_or_not_at_all(pair: Any, as_manager: APIClient) -> None:
    made = merging(as_manager).json()["id"]
    make.StoreroomFactory(code="NORTH")
    for room, status in (("MAIN", 200), ("NORTH", 404)):
        client = limited_client(room)
        assert client.get(f"{API}merges/{made}/").status_code == status


def test_groups_are_listed_with_what_they_cost(pair: Any, as_manager: APIClient) -> None:
    make.stock(pair[1], make.StoreroomFactory(code="NORTH"), 2)
    StockPolicy.objects.create(
        item=pair[0], storeroom=make.StoreroomFactory(), reorder_point=0, order_up_to=1
    )
    find_duplicates(timezone.now())
    (group,) = as_manager.get(f"{API}duplicates/").json()["results"]
    assert [one["item"] for one in group["items"]] == ["OLD-1", "NEW-1"]
    assert (group["likeness"], group["currency"], group["pieces_apart"]) == ("equal", "EUR", 1)
    assert [(one["storeroom"], one["pieces_together"]) for one in group["shelves"]] == [
        ("MAIN", 1),
        ("NORTH", 0),
    ]
    assert group["shelves"][0]["numbers"][0] | {"lead_time_days": None} == {
        "item": "OLD-1",
        "demand_per_year": 0.0,
        "lead_time_days": None,
        "on_hand": 3,
        "pieces": 1,
    }
    assert as_manager.get(f"{API}duplicates/?item=NEW-1").json()["results"] == [group]


def test_a_group_is_seen_with_all_its_storerooms_or_not_at_all(pair: Any) -> None:
    make.stock(pair[1], make.StoreroomFactory(code="NORTH"), 2)
    find_duplicates(timezone.now())
    assert limited_client("MAIN").get(f"{API}duplicates/").json()["results"] == []
    whole = limited_client("MAIN", "NORTH")
    assert len(whole.get(f"{API}duplicates/").json()["results"]) == 1


def test_a_merged_pair_leaves_the_list_and_comes_back_with_the_undoing(
    pair: Any, as_manager: APIClient
) -> None:
    find_duplicates(timezone.now())
    address = merging(as_manager)["Location"]
    assert as_manager.get(f"{API}duplicates/").json()["results"] == []
    post(as_manager, f"{address}undo/", {"reason": "another hub"}, "k-2")
    assert len(as_manager.get(f"{API}duplicates/").json()["results"]) == 1


def test_lists_cost_a_fixed_number_of_queries(as_manager: APIClient, django_assert_num_queries: Any) -> None:
    for size in range(6):
        numbers = [make.ItemFactory(specification=make.SprocketFactory(teeth=17 + size)) for _ in range(3)]
        make.stock(numbers[0], make.StoreroomFactory(), 1)
        merge(numbers[1], numbers[2], by="Ines Okafor", reason="one part")
    find_duplicates(timezone.now())
    assert DuplicateGroup.objects.count() == 6
    assert StockEntry.objects.count() == 6
    as_manager.get(f"{API}duplicates/")
    for path, queries in (("duplicates", 4), ("merges", 3)):
        with django_assert_num_queries(queries):
            assert len(as_manager.get(f"{API}{path}/").json()["results"]) == 6
