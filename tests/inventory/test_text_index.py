"""The text indexes follow every way of writing, and a table that is rebuilt."""

import pytest
from django.db import connection, migrations, models
from django.db.migrations.state import ModelState, ProjectState
from django.test.utils import CaptureQueriesContext

from drives.models import Position
from inventory.models import Bin, Item
from inventory.models.text_index import SEPARATORS, NormalForm, TextOf, known_words, normal
from inventory.plumbing import text_search
from inventory.plumbing.text_search import rows_with_words
from tests.factories import BinFactory, ItemFactory, PositionFactory

pytestmark = pytest.mark.django_db
ITEM = ("stock_number", "description", "maker", "maker_part_number")


def found(*words: str, most: int = 5_000) -> set[str] | None:
    keys = rows_with_words(Item, ITEM, [[word] for word in words], most)
    return (
        None if keys is None else set(Item.objects.filter(pk__in=keys).values_list("stock_number", flat=True))
    )


def know_the_items() -> None:
    """As a served database knows them: without statistics PostgreSQL goes by the size of a file that earlier tests have filled."""
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE inventory_item")


@pytest.mark.parametrize("text", ["41-0105", 'SPKT 1-1/4" (B) #3', f"a{SEPARATORS}z", "Straße", "", "50%_x"])
def test_the_database_makes_the_normal_form_of_the_program(text):
    ItemFactory(stock_number="X", description=text)
    assert Item.objects.annotate(form=NormalForm("description")).get().form == normal(text)
    assert (
        Item.objects.annotate(text=TextOf("description", "stock_number")).get().text == f" {normal(text)} x "
    )


def test_every_way_of_writing_is_followed():
    item = ItemFactory(stock_number="41-0105", description="TAPER BUSH")
    Item.objects.bulk_create([Item(stock_number="41-0106", description="Idler wheel")])
    assert found("bush") == {"41-0105"}
    assert found("idler", "WHEEL") == {"41-0106"}
    item.description = "weld-on hub"
    item.save()
    assert found("bush") == set()
    assert found("weldon") == found("hub") == {"41-0105"}
    Item.objects.update(maker="Culverdene")
    assert found("verden") == {"41-0105", "41-0106"}
    upsert = [Item(stock_number="41-0106", description="KEY STEEL")]
    Item.objects.bulk_create(
        upsert, update_conflicts=True, unique_fields=["stock_number"], update_fields=["description"]
    )
    assert (found("idler"), found("steel")) == (set(), {"41-0106"})
    item.delete()
    assert found("hub") == set()


def test_words_of_two_letters_are_found_anywhere_and_single_ones_tell_nothing():
    ItemFactory(stock_number="41-0105", description="SPKT 50B18")
    ItemFactory(stock_number="41-0110", description="BUSH")
    know_the_items()
    assert found("b1") == {"41-0105"}
    assert found("18") == {"41-0105"}
    assert found("sh") == {"41-0110"}
    assert found("4") is None
    assert found("bush", "4") == {"41-0110"}


def test_many_rows_are_not_listed():
    for number in range(4):
        ItemFactory(stock_number=f"77-{number}", description="IDLER")
    assert found("idler", most=3) is None
    assert len(found("idler", most=4)) == 4


def test_a_word_may_stand_in_a_record_that_is_referred_to():
    position = PositionFactory(tag="K1-DRV", name="kiln head", drive__name="turning drive")
    PositionFactory(tag="K2-DRV", name="other")
    paths = ("tag", "name", "drive__tag", "drive__name")
    assert rows_with_words(Position, paths, [["kiln"], ["turning"]]) == [position.pk]
    assert rows_with_words(Position, paths, [["kiln"], ["other"]]) == []


def test_words_are_kept_for_slips():
    ItemFactory(description='SPKT 1-1/4 "big\\wheel" FB')
    assert known_words(["spkt", "114", "bigwheel", "sptk", "fb"], Item) == ["114", "bigwheel", "spkt"]
    assert known_words([], Item) == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="other databases alter a table where it stands")
@pytest.mark.django_db(transaction=True)
def test_a_table_that_is_rebuilt_keeps_its_index():
    shelf = BinFactory(code="A-17-03")
    state = ProjectState()
    state.add_model(
        ModelState(
            "rebuilt",
            "Bin",
            [(one.name, one.clone()) for one in Bin._meta.local_fields if not one.is_relation]
            + [("storeroom_id", models.BigIntegerField())],
            {"db_table": Bin._meta.db_table, "indexes": Bin._meta.indexes},
        )
    )
    longer = migrations.AlterField("bin", "code", models.CharField(max_length=31, default=""))
    after = state.clone()
    longer.state_forwards("rebuilt", after)
    with connection.schema_editor() as editor:
        longer.database_forwards("rebuilt", editor, state, after)
    assert rows_with_words(Bin, ("code",), [["1703"]]) == [shelf.pk]
    Bin.objects.filter(pk=shelf.pk).update(code="B-21")
    assert rows_with_words(Bin, ("code",), [["1703"]]) == []
    assert rows_with_words(Bin, ("code",), [["b21"]]) == [shelf.pk]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite stops reading by itself")
def test_a_common_word_is_not_counted_where_statistics_tell(monkeypatch):
    monkeypatch.setattr(text_search, "SURELY_MANY", 40)
    for at in range(100):
        ItemFactory(stock_number=f"Z-{at}", description="wheel" if at % 10 else "hub")
    know_the_items()
    with CaptureQueriesContext(connection) as caught:
        assert found("wheel", most=10) is None
    assert [one["sql"].split()[0] for one in caught] == ["EXPLAIN"]
    assert found("hub", most=10) == {f"Z-{at}" for at in range(0, 100, 10)}
