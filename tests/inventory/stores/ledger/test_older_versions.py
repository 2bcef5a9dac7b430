"""What an older version cannot keep is not taken back to it: the reverse of a migration says so before it changes anything."""

from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.db.migrations.exceptions import IrreversibleError
from django.db.migrations.operations import RunPython

from inventory.models import Condition, Item, ReasonCode, Storeroom
from inventory.stores import ledger
from tests import factories as make
from tests import movements

pytestmark = pytest.mark.django_db
PARTIAL = "0015_reverse_movements_in_part"
WORN = "0016_let_worn_parts_leave_the_books"
SETTINGS = "0020_settings_of_ties_drift_and_new_chain"


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def item(main: Storeroom) -> Item:
    found: Item = make.ItemFactory()
    make.stock(found, main, 9)
    return found


def take_back(name: str) -> None:
    """The first step of the reverse, which is the last of the migration."""
    last: Any = import_module(f"inventory.migrations.{name}").Migration.operations[-1]
    assert isinstance(last, RunPython)
    last.reverse_code(apps, SimpleNamespace(connection=connection))


def test_partial_reversals_stay(item: Item, main: Storeroom) -> None:
    entry = movements.issue(item, main, 5, by="Marta").entry
    whole = movements.issue(item, main, 2, by="Marta").entry
    ledger.reverse(whole, by="Marta", reason="typed wrongly")
    take_back(PARTIAL)
    ledger.reverse(entry, by="Marta", reason="typed wrongly", quantity=2)
    with pytest.raises(IrreversibleError, match=rf"1 movements .*the first is {entry.pk}\).*backup"):
        take_back(PARTIAL)


def test_worn_parts_that_left_the_books_stay(item: Item, main: Storeroom) -> None:
    movements.issue(item, main, 1, by="Marta")
    take_back(WORN)
    worn = {"reason_code": ReasonCode.WORN, "condition": Condition.ON_HOLD}
    movements.return_to_stock(item, main, 1, by="Marta", **worn)
    with pytest.raises(IrreversibleError, match=r"2 movements are of worn parts.*backup"):
        take_back(WORN)


def test_settings_that_an_older_version_does_not_have_are_named() -> None:
    make.PlantSettingFactory(name="fewest_worn_out", value=8)
    take_back(SETTINGS)
    make.PlantSettingFactory(name="tie_share", value=0.1)
    with pytest.raises(IrreversibleError, match="tie_share: delete"):
        take_back(SETTINGS)
