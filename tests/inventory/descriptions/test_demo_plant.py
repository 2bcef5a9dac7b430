"""The descriptions of the demo plant, written by its own generator, against the records that stand beside them."""

import csv
from pathlib import Path

import pytest

from inventory.descriptions.codes import standard_name
from inventory.descriptions.reader import read_description
from tests.inventory.descriptions.cases import is_equal

ITEMS = Path(__file__).resolve().parents[3] / "fixtures" / "demo" / "items.csv"
COMPARED = (
    *("strands", "teeth", "bore_type", "bore_mm", "keyway_width_mm", "bush_size", "hex_across_flats_mm"),
    *("material", "role_kind", "set_screws", "max_bore_mm"),
)
LEAST_SHARE_PARSED = 0.85
"""The rest asks what the plant's own text leaves open: 08B or 40 for 1/2 × 5/16, the maker's own steel, chains of no standard."""


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    with ITEMS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_no_parsed_description_contradicts_its_record(rows: list[dict[str, str]]) -> None:
    sprockets = [row for row in rows if row["kind"] == "sprocket"]
    parsed, wrong = 0, []
    for row in sprockets:
        reading = read_description(row["description"])
        if reading.outcome != "parsed":
            continue
        parsed += 1
        found = {name: one.value for name, one in reading.attributes.items() if one.basis != "assumed"}
        wrong += [
            (row["description"], name, found[name], row[name])
            for name in COMPARED
            if name in found and row[name] and not is_equal(name, row[name], found[name])
        ]
        if standard_name(str(found["chain"])) != standard_name(row["chain"]):
            wrong.append((row["description"], "chain", found["chain"], row["chain"]))

    assert wrong == []
    assert parsed / len(sprockets) >= LEAST_SHARE_PARSED


def test_no_other_part_is_taken_for_a_sprocket(rows: list[dict[str, str]]) -> None:
    others = [row for row in rows if row["kind"] not in ("sprocket", "")]

    assert len(others) > 150
    assert [
        row["description"] for row in others if read_description(row["description"]).outcome != "rejected"
    ] == []
