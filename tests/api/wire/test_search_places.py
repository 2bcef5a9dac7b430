"""What `q` searches in a long table, an index of that table holds."""

import pytest

from api.wire.declaration import WireRecord, wire_records
from inventory.models.text_index import text_index_of

SHORT = {
    "Area",
    "CodeWord",
    "MachineShop",
    "Plant",
    "PlantSetting",
    "Rule",
    "SourceAnswer",
    "Storeroom",
    "Webhook",
}
SEARCHED = [record for record in wire_records() if record.listed and record.listed.search]


def places(record: WireRecord) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for path in record.listed.search.split() if record.listed else ():
        place, _, column = path.rpartition("__")
        found.setdefault(place, set()).add(column)
    return found


@pytest.mark.parametrize("record", SEARCHED, ids=lambda record: record.path)
def test_every_searched_column_of_a_long_table_is_in_an_index(record: WireRecord) -> None:
    if record.model.__name__ in SHORT:
        return
    for place, columns in places(record).items():
        model = record.model._meta.get_field(place).related_model if place else record.model
        index = text_index_of(model)
        assert index is not None, (record.path, place)
        assert columns <= set(index.fields)
        assert not any(model._meta.get_field(name).null for name in index.fields)
