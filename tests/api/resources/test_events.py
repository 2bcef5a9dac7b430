import threading
from typing import Any

import pytest
from django.db import connection, transaction
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken
from inventory.models import Event
from inventory.plumbing.events import sequence_events
from tests import factories as make
from tests.api.records import names
from tests.api.webhooks.subscribing import SHELF, happen

pytestmark = pytest.mark.django_db
PATH = "/api/v1/events/"


def test_it_tells_what_happened_in_order(as_viewer: APIClient) -> None:
    first = happen(storeroom="OM-MAIN")
    happen("item/1", type="item.changed")
    found = as_viewer.get(PATH).json()
    assert [one["sequence"] for one in found["results"]] == [1, 2]
    told = found["results"][0]
    assert (told["type"], told["aggregate"], told["version"]) == ("stock.moved", SHELF, 1)
    assert (told["storeroom"], told["plant"], told["data"]) == ("OM-MAIN", None, {"change": -1})
    assert told["id"].startswith(f"evt_{first.pk}_")
    assert (found["after"], found["missing"], found["next"]) == (2, 0, None)


def test_the_end_of_one_reading_is_the_beginning_of_the_next(as_viewer: APIClient) -> None:
    for n in range(5):
        happen(f"item/{n}")
    seen, after = [], 0
    while True:
        page = as_viewer.get(PATH, {"after": after, "limit": 2}).json()
        seen += [one["sequence"] for one in page["results"]]
        after = page["after"]
        if page["next"] is None:
            break
        assert f"after={after}" in page["next"]
    assert (seen, after) == ([1, 2, 3, 4, 5], 5)
    assert as_viewer.get(PATH, {"after": 5}).json()["results"] == []


def test_the_number_moves_on_past_what_is_filtered_out(as_viewer: APIClient) -> None:
    happen()
    happen("item/1", type="item.changed")
    happen("item/2", type="item.changed")
    page = as_viewer.get(PATH, {"type": "stock.moved"}).json()
    assert ([one["type"] for one in page["results"]], page["after"]) == (["stock.moved"], 3)
    assert names(as_viewer.get(PATH, {"aggregate": "item/1,item/2"}), "sequence") == [2, 3]


def test_what_is_wrong_with_the_question_is_named(as_viewer: APIClient) -> None:
    happen()
    wrong = as_viewer.get(PATH, {"after": "x", "limit": "0", "type": "a,,b"})
    assert wrong.status_code == 400
    assert {one["parameter"] for one in wrong.json()["errors"]} == {"after", "limit", "type"}
    assert as_viewer.get(PATH, {"aggregat": "a"}).status_code == 400
    ahead = as_viewer.get(PATH, {"after": 2})
    assert (ahead.status_code, "the newest has 1" in ahead.json()["detail"]) == (400, True)


def test_strangers_hear_nothing(as_stranger: APIClient) -> None:
    assert as_stranger.get(PATH).status_code == 401


def test_a_caller_with_limits_hears_what_lies_within() -> None:
    token, secret = AccessToken.objects.issue("the feed", role="integration")
    limit_to({"token": token}, [], [make.StoreroomFactory(code="OM-MAIN")])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    happen("a", storeroom="OM-MAIN")
    happen("b", storeroom="KILN")
    happen("c")
    happen("d", plant="ELSEWHERE")
    page = client.get(PATH).json()
    assert ([one["aggregate"] for one in page["results"]], page["after"]) == (["a", "c"], 4)


def test_it_says_when_numbers_in_between_are_gone(as_viewer: APIClient) -> None:
    for n in range(4):
        happen(f"item/{n}")
    sequence_events()
    Event.objects.filter(sequence__in=[2, 3]).delete()
    assert as_viewer.get(PATH).json()["missing"] == 2
    assert as_viewer.get(PATH, {"after": 3}).json()["missing"] == 0


def test_it_costs_the_same_however_many_there_are(
    as_viewer: APIClient, django_assert_num_queries: Any
) -> None:
    for n in range(30):
        happen(f"item/{n}")
    sequence_events()
    with django_assert_num_queries(5):
        as_viewer.get(PATH)


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_late_commit_with_a_lower_id_is_not_skipped(as_viewer: APIClient) -> None:
    written, go_on = threading.Event(), threading.Event()

    def slow() -> None:
        with transaction.atomic():
            happen("item/slow")
            written.set()
            go_on.wait(20)
        connection.close()

    writer = threading.Thread(target=slow)
    writer.start()
    assert written.wait(20)
    happen("item/quick")
    first = as_viewer.get(PATH).json()
    go_on.set()
    writer.join()
    second = as_viewer.get(PATH, {"after": first["after"]}).json()
    told = [[one["aggregate"] for one in page["results"]] for page in (first, second)]
    assert told == [["item/quick"], ["item/slow"]]
