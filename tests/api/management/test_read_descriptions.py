import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from api.models import Change
from inventory.models import Item, Specification
from tests.factories import BushItemFactory, ItemFactory, SprocketFactory

pytestmark = pytest.mark.django_db


def run(*args):
    out = StringIO()
    call_command("read_descriptions", *args, stdout=out)
    return out.getvalue()


def test_it_shows_what_it_reads_and_writes_nothing():
    ItemFactory(stock_number="42-1", description="SPKT D60B20", specification=None)
    ItemFactory(stock_number="42-2", description="WHEEL 1/2 PITCH 30T", specification=None)

    shown = run()

    assert "42-1\tSPKT D60B20\tparsed\tchain=60 " in shown
    assert "strands=2" in shown
    assert "“1/2 PITCH” fits several chains" in shown
    assert "Lines parsed: 1; to review: 1; not one sprocket: 0. Items that --write fills: 1;" in shown
    assert not Specification.objects.exists()
    assert not Change.objects.exists()


def test_write_fills_unknown_attributes_only():
    known = SprocketFactory(chain_designation="08B", teeth=17, hub_style="", material="", hardened_teeth=None)
    item = ItemFactory(description="SPROCKET 08B-1 17T TYPE B C45 HT", specification=known)
    before = {one.attname: getattr(known, one.attname) for one in known._meta.concrete_fields}

    shown = run("--write")

    known.refresh_from_db()
    changed = {name for name, value in before.items() if getattr(known, name) != value} - {"updated_at"}
    assert "Items filled: 1;" in shown
    assert (known.hub_style, known.material) == ("B", "carbon_steel")
    assert all(before[name] in (None, "") for name in changed)
    item.refresh_from_db()
    assert "hub_style (stated: TYPE B)" in item.note
    assert Change.objects.filter(by_name="read_descriptions", record="inventory.specification").count() == 1


def test_writing_twice_changes_nothing_more():
    ItemFactory(description="SPKT D60B20", specification=None)
    run("--write")
    first = Item.objects.get().note

    assert "Items filled: 0;" in run("--write")
    assert Item.objects.get().note == first


def test_an_assumed_value_is_not_written():
    ItemFactory(description="SPROCKET #60 20T", specification=None)

    run("--write")

    assert (Specification.objects.get().teeth, Specification.objects.get().strands) == (20, None)


def test_the_bore_of_a_bush_is_not_the_bore_of_the_sprocket():
    ItemFactory(description="SPROCKET 12B-1 25T BUSH 2012 BORE 35", specification=None)

    run("--write")

    found = Specification.objects.get()
    assert (found.bore_type, found.bush_size, found.bore_mm) == ("tapered", "2012", None)


def test_a_doubtful_line_fills_nothing():
    ItemFactory(description="SPKT 40/08B 17T", specification=None)

    assert "Items filled: 0;" in run("--write")


def test_a_record_of_another_part_is_left_alone():
    item = BushItemFactory(description="SPROCKET 08B-1 17T TB 1610")
    before = item.specification.updated_at

    assert "says otherwise: 1." in run("--write")
    item.specification.refresh_from_db()
    assert item.specification.updated_at == before


def test_an_impossible_combination_is_refused_by_the_rule_of_the_record():
    known = SprocketFactory(chain_designation="08B", teeth=None, bore_mm=None, max_bore_mm=20, bore_type="")
    ItemFactory(description="SPROCKET 08B-1 25T BORE 30MM", specification=known)

    assert "says otherwise: 1." in run("--write")
    known.refresh_from_db()
    assert (known.teeth, known.bore_mm) == (None, None)


def test_lines_of_a_file_are_read_and_saved(tmp_path):
    lines, saved = tmp_path / "lines.txt", tmp_path / "read.ndjson"
    lines.write_text("SPKT 40B10\n\nKETTENRAD 08B-1 17 ZÄHNE\n", encoding="utf-8")

    shown = run("--file", str(lines), "--save", str(saved), "--quiet")

    assert shown == "Lines parsed: 2; to review: 0; not one sprocket: 0. Lines of a file are only shown.\n"
    rows = [json.loads(row) for row in saved.read_text(encoding="utf-8").splitlines()]
    assert [row["stock_number"] for row in rows] == ["1", "3"]
    assert rows[1]["attributes"]["teeth"]["text"] == "17 ZÄHNE"


@pytest.mark.parametrize(
    ("content", "words"),
    [("SPKT\n" + "X" * 10_000, "Line 2 has 10000 characters"), (b"SPKT \xff", "not in UTF-8")],
)
def test_a_bad_file_is_refused(tmp_path, content, words):
    file = tmp_path / "lines.txt"
    file.write_bytes(content if isinstance(content, bytes) else content.encode())

    with pytest.raises(CommandError, match=words):
        run("--file", str(file))


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--file", "nowhere.txt"], "cannot be opened"),
        (["--file", "x", "--write"], "belong to no item"),
        (["--stock-number", "NONE-1"], "NONE-1"),
    ],
)
def test_wrong_options_are_refused(args, words):
    with pytest.raises(CommandError, match=words):
        run(*args)
