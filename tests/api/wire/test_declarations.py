"""Every record is declared once, and what travels of it comes from there."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from django.db.models import Model
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from api.edge.change_log import naming_of
from api.edge.declarations import NOBODY, find_declaration
from api.edge.schema import document
from api.edge.scope import visible_to_caller
from api.exchange.tables import TABLES, table_of
from api.wire.records.transfer_times import TRANSFER_TIMES
from api.wire.serializers import serializer_of
from inventory.models import Lease, StockEntry, TransferTime
from inventory.models.access_scope import AccessScope, scoped_to
from tests import factories as make


def models_with_a_view(patterns: list[URLPattern | URLResolver]) -> Iterator[type[Model]]:
    for one in patterns:
        if isinstance(one, URLResolver):
            yield from models_with_a_view(one.url_patterns)
        elif (rows := getattr(getattr(one.callback, "cls", None), "queryset", None)) is not None:
            yield rows.model


VIEWED = sorted(set(models_with_a_view(get_resolver().url_patterns)), key=lambda one: one._meta.label)


def test_the_views_are_found() -> None:
    assert len(VIEWED) > 30
    assert {TransferTime, StockEntry} <= set(VIEWED)


@pytest.mark.parametrize("model", VIEWED, ids=lambda one: one._meta.label)
def test_a_model_with_a_view_has_its_scope_and_its_log_name(model: type[Model]) -> None:
    declaration = find_declaration(model)

    assert declaration is not None
    assert declaration.scope is not NOBODY or model._meta.label == "drives.InboundMessage"
    model._base_manager.values_list(*declaration.log_name().key)  # Every path of the name is there.


@pytest.mark.django_db
def test_a_model_that_is_not_declared_shows_nothing_to_a_caller_with_limits() -> None:
    Lease.objects.create(name="nightly", holder="one", until=timezone.now())
    limited = AccessScope(frozenset({1}), frozenset({1}))

    with scoped_to(lambda: limited):
        assert not visible_to_caller(Lease.objects.all()).exists()
    assert visible_to_caller(Lease.objects.all()).exists()


def test_schema_columns_log_name_and_scope_of_a_record_come_from_one_declaration() -> None:
    members = document()["components"]["schemas"]["TransferTime"]["properties"]

    assert list(members) == TRANSFER_TIMES.fields.split()
    assert [column.name for column in TABLES["transfer-times"].columns] == [
        *("from_storeroom", "to_storeroom", "minutes")
    ]
    assert TABLES["transfer-times"].key == TRANSFER_TIMES.key_fields
    assert naming_of(TransferTime).key == ("from_storeroom__code", "to_storeroom__code")
    assert TRANSFER_TIMES.scope.storerooms == TRANSFER_TIMES.key_fields


def test_a_member_left_out_of_the_declaration_is_gone_everywhere() -> None:
    shorter = replace(TRANSFER_TIMES, fields="id from_storeroom to_storeroom")

    assert [column.name for column in table_of(shorter).columns] == ["from_storeroom", "to_storeroom"]
    assert list(serializer_of(shorter)().fields) == ["id", "from_storeroom", "to_storeroom"]


@pytest.mark.django_db
def test_the_log_names_a_record_by_its_natural_key(as_manager: Any) -> None:
    there, here = make.StoreroomFactory(code="MAIN"), make.StoreroomFactory(code="WEST")
    body = {"from_storeroom": there.code, "to_storeroom": here.code, "minutes": 30}

    assert as_manager.post("/api/v1/transfer-times/", body).status_code == 201
    (entry,) = as_manager.get("/api/v1/changes/?record=inventory.transfertime").json()["results"]
    assert (entry["key"], entry["storeroom"]) == ("MAIN/WEST", "MAIN")
