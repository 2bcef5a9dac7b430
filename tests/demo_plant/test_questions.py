"""What clerks type into the box, and what comes first.

The questions are invented; the answers are read from the tables of the demo plant, not from the search: `chain=60 teeth=24` is
what the record of the first hit must say, and of every other item hit.
"""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from api.screens.search import Hit, search
from drives.models import Drive, Position
from inventory.models import Item, StockLevel
from inventory.standards.chains import find_chain

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]
with (Path(__file__).parent / "questions.csv").open(newline="", encoding="utf-8") as file:
    QUESTIONS = {row["question"]: row["first_hit"] for row in csv.DictReader(file)}
COLUMNS = {"bore": "bore_mm", "pitch": "pitch_mm"}
AS_NEAR = 5
"""A slip shows the right one among the first few."""


def test_there_are_at_least_150_questions() -> None:
    assert len(QUESTIONS) >= 150


def has(hit: Hit, name: str, value: str) -> bool:
    if name == "word":
        words = f"{hit.name} {hit.description}".casefold().replace(",", " ").split()
        return value in words
    if name == "bin":
        return StockLevel.objects.filter(item__stock_number=hit.name, bin__code=value).exists()
    part = Item.objects.get(stock_number=hit.name).specification
    assert part is not None
    if name == "chain":
        return part.chain_designation in {find_chain(one).designation for one in value.split("/")}
    said = getattr(part, COLUMNS.get(name, name))
    if isinstance(said, Decimal):
        return abs(float(said) - float(value)) < 0.02
    return str(said) == value


@pytest.mark.parametrize("question", QUESTIONS)
def test_the_right_one_comes_first(question: str) -> None:
    found = search(question)
    asked = [one.partition("=")[::2] for one in QUESTIONS[question].split()]
    (name, value), *_ = asked
    assert found.hits
    if name == "name":
        assert found.hits[0].name == value
    elif name == "near":
        assert value in [hit.name for hit in found.hits[:AS_NEAR]]
        assert found.is_near
    else:
        of_kind = [hit for hit in found.shown if hit.kind == "item" or name == "word"]
        assert of_kind[0] == found.hits[0]
        assert [hit.name for hit in of_kind if not all(has(hit, *one) for one in asked)] == []


def test_every_question_of_attributes_misses_no_item_that_has_them() -> None:
    """Counted by reading every record."""
    everything = [
        Hit("item", number, "")
        for number in Item.objects.filter(specification__isnull=False).values_list("stock_number", flat=True)
    ]
    for question in ("60-2", "#60 24T", '1/2" 17T', "bush 2012 40", "duplex 16B 17 teeth", "bore 2-7/16"):
        asked = [one.partition("=")[::2] for one in QUESTIONS[question].split()]
        wanted = {hit.name for hit in everything if all(has(hit, *one) for one in asked)}
        assert {hit.name for hit in search(question).hits if hit.kind == "item"} == wanted


def test_hits_are_records_of_the_plant() -> None:
    for hit in search("kiln 2").hits:
        assert Position.objects.filter(tag=hit.name).exists() or Drive.objects.filter(tag=hit.name).exists()
