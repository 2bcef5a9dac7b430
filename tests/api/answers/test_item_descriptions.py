import pytest

from inventory.descriptions.reader import read_description
from tests.factories import BushItemFactory, ItemFactory, SprocketFactory

pytestmark = pytest.mark.django_db


def written(client, item):
    found = client.get(f"/api/v1/items/{item.stock_number}/descriptions/")
    assert found.status_code == 200, found.content
    return found.json()


def test_a_sprocket_is_described_in_five_languages_and_two_lengths(as_viewer):
    item = ItemFactory(
        specification=SprocketFactory(chain_designation="40", strands=2, teeth=19, material="carbon_steel")
    )

    found = written(as_viewer, item)

    assert found["reasons"] == []
    assert {(one["language"], one["characters"]) for one in found["descriptions"]} == {
        (language, characters) for language in ("en", "de", "fr", "es", "it") for characters in (40, 200)
    }
    for one in found["descriptions"]:
        reading = read_description(one["text"])
        assert len(one["text"]) <= one["characters"]
        assert (reading.attributes["chain"].value, reading.attributes["teeth"].value) == ("40", 19)
        assert reading.attributes["strands"].value == 2


@pytest.mark.parametrize(
    "item", [BushItemFactory.build, lambda: ItemFactory.build(specification=None)], ids=["bush", "unknown"]
)
def test_what_is_no_known_sprocket_has_a_reason_instead(as_viewer, item):
    made = item()
    if made.specification is not None:
        made.specification.save()
    made.save()

    found = written(as_viewer, made)

    assert found["descriptions"] == []
    assert [one["code"] for one in found["reasons"]] == ["nothing_to_describe"]


def test_an_unknown_item_is_not_found(as_viewer):
    assert as_viewer.get("/api/v1/items/NONE/descriptions/").status_code == 404
