from collections.abc import Iterator

import pytest
from pytest_django import DjangoDbBlocker

from api.exchange.tables import TABLES
from inventory.models import ServiceTarget, StockPolicy
from tests.api.exchange.exported_files import exported
from tests.api.exchange.files import load, load_up_to, sentences
from tests.shared_rows import shared_rows

pytestmark = pytest.mark.django_db
HEADER = "item,storeroom,stocked,reorder_point,order_up_to,reason\n"


@pytest.fixture(autouse=True, scope="module")
def everything(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    with shared_rows(django_db_blocker, lambda: load_up_to("service-targets")):
        yield


def test_policies_say_who_sent_them() -> None:
    kept, not_kept = StockPolicy.objects.order_by("item__stock_number")
    assert (kept.reorder_point, kept.order_up_to, kept.set_by_name) == (1, 3, "marta")
    assert (not_kept.stocked, not_kept.reorder_point, not_kept.order_up_to) == (False, -1, 0)


def test_a_changed_policy_says_who_changed_it_and_the_others_stay() -> None:
    StockPolicy.objects.update(set_by_name="Ines Okafor")

    result = load("stock-policies", HEADER + "004711,MAIN,true,2,4,\n004714,MAIN,false,-1,0,\n")

    assert (result.counts["updated"], result.counts["unchanged"]) == (1, 1)
    signed = StockPolicy.objects.order_by("item__stock_number").values_list("order_up_to", "set_by_name")
    assert list(signed) == [(4, "marta"), (0, "Ines Okafor")]


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("004711,MAIN,true,3,3,", "order_up_to", "above reorder_point"),
        ("004711,MAIN,true,-1,1,", "reorder_point", "Not stocked means"),
        ("004711,MAIN,true,-2,1,", "reorder_point", "must be from -1"),
        ("004711,MAIN,true,,1,", "reorder_point", "must be given"),
        ("004799,MAIN,true,0,1,", "item", "There is no item"),
    ],
)
def test_a_policy_that_makes_no_sense_is_told_by_column(row: str, column: str, words: str) -> None:
    ((line, found, said),) = sentences(load("stock-policies", f"{HEADER}{row}\n"))

    assert (line, found) == (2, column)
    assert words in said


def test_promises_are_recorded_by_importance() -> None:
    promised = ServiceTarget.objects.values_list("importance", "kind", "value", "tolerable_wait_hours")
    assert sorted(promised) == [("unknown", "fill_rate", 0.95, 24.0), ("vital", "fill_rate", 0.99, None)]


@pytest.mark.parametrize(
    ("row", "column"),
    [("huge,fill_rate,0.9", "importance"), ("vital,hope,0.9", "kind"), ("vital,cost,1", "value")],
)
def test_a_promise_that_makes_no_sense_is_told_by_column(row: str, column: str) -> None:
    ((line, found, _),) = sentences(load("service-targets", f"importance,kind,value\n{row}\n"))

    assert (line, found) == (2, column)


@pytest.mark.parametrize("kind", ["stock-policies", "service-targets", "requests", "supply-orders"])
def test_what_is_exported_comes_in_again_as_unchanged(kind: str) -> None:
    table = TABLES[kind]

    result = load(kind, "".join(exported(table, table.model._default_manager.all())))

    assert result.is_accepted, (result.problems, result.row_results)
    assert (result.counts["created"], result.counts["updated"], result.counts["unchanged"]) == (0, 0, 2)
