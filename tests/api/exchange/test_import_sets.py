import io
import json
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from api.exchange.import_sets import GivenFile, SetRefused, choose_kinds, make_set
from api.exchange.set_questions import mapped_sheets, questions_of
from api.exchange.set_runs import carry_out, check_ready, request_set
from api.exchange.templates import workbook_template
from api.exchange.undoing import undo
from api.models import (
    BackgroundJob,
    Change,
    ImportSet,
    ImportSetState,
    SentFilePart,
)
from api.operations.jobs.queue import Requester
from drives.models import Installation, Plant, Position, RecordedVerdict
from inventory.models import Item, OpeningHours, Specification, StockEntry, StockLevel, Storeroom
from inventory.stores.ledger import Movement, book
from inventory.stores.ledger.verify import verify
from tests.api.exchange.files import PLANT
from tests.api.exchange.test_big_files import full_disk
from tests.factories import PlantFactory, StoreroomFactory
from tests.jobs import run_queued_jobs

pytestmark = pytest.mark.django_db
STOCK = "item,storeroom,bin,quantity\n004711,MAIN,A-01,5\n004713,MAIN,A-02,300\n004712,MAIN,,0\n"
RECORDS = list(PLANT)[: list(PLANT).index("movements")]


def files(**changes: str) -> list[GivenFile]:
    texts = {kind: PLANT[kind] for kind in RECORDS} | {"opening-balances": STOCK}
    texts |= {name.replace("_", "-"): text for name, text in changes.items()}
    # In the order of the alphabet, as a folder gives them.
    return [GivenFile(f"{kind}.csv", io.BytesIO(text.encode())) for kind, text in sorted(texts.items())]


def sent(**changes: str) -> ImportSet:
    return make_set(files(**changes), by_name="ines")


def done(**changes: str) -> ImportSet:
    owner = carry_out(sent(**changes), dry_run=False)
    assert owner.state == ImportSetState.DONE
    return owner


def problems(owner: ImportSet) -> list[tuple[str, int, str, str]]:
    return [
        (sheet.kind, row["line"], error["column"], error["code"])
        for sheet in owner.sheets.all()
        for row in sheet.row_results
        for error in row["errors"]
    ]


def test_a_folder_is_loaded_in_one_go_whatever_the_order_of_its_files() -> None:
    owner = done()

    assert Position.objects.count() == 2
    assert Item.objects.count() == 5
    assert [(level.item.stock_number, level.on_hand) for level in StockLevel.objects.order_by("pk")] == [
        ("004711", 5),
        ("004713", 300),
    ]
    stock = owner.sheets.get(kind="opening-balances")
    assert (stock.count_of("created"), stock.count_of("unchanged")) == (2, 1)
    assert not SentFilePart.objects.exists()
    assert verify() == ()


def test_a_workbook_holds_a_sheet_for_each_kind() -> None:
    book = openpyxl.Workbook()
    for text in ("To do", "call Ben about the bins"):
        (book["Notes"] if "Notes" in book else book.create_sheet("Notes")).append([text])
    for kind in ("storerooms", "machine-shops"):
        sheet = book.create_sheet(kind)
        for line in PLANT[kind].splitlines():
            sheet.append([cell or None for cell in line.split(",")])
    file = io.BytesIO()
    book.save(file)

    owner = make_set([GivenFile("plant.xlsx", file)], by_name="ines")

    assert [(sheet.name, sheet.kind) for sheet in owner.sheets.all()] == [
        ("Notes", ""),
        ("storerooms", "storerooms"),
        ("machine-shops", "machine-shops"),
    ]
    carry_out(owner, dry_run=False)
    assert Storeroom.objects.count() == 2


def test_a_dry_run_says_what_would_change_and_leaves_nothing() -> None:
    done()
    before = Change.objects.count()
    items = (
        PLANT["items"]
        .replace("Chain 40 in boxes,link,0.90", "Chain in boxes,link,0.95")
        .replace("17,B,25", "18,B,25", 1)
    )
    owner = make_set([GivenFile("items.csv", io.BytesIO(items.encode()))], by_name="ines")

    carry_out(owner, dry_run=True)

    assert owner.state == ImportSetState.TRIED
    changes = {row["key"]: row["changes"] for row in owner.sheets.get().row_results if "changes" in row}
    assert changes == {
        "004711": [{"column": "teeth", "before": 17, "after": 18}],
        "004713": [
            {"column": "description", "before": "Chain 40 in boxes", "after": "Chain in boxes"},
            {"column": "unit_cost", "before": "0.9", "after": "0.95"},
        ],
    }
    assert Change.objects.count() == before
    assert carry_out(owner, dry_run=False).state == ImportSetState.DONE
    assert Item.objects.get(stock_number="004713").description == "Chain in boxes"


def test_one_bad_row_keeps_everything_out_and_only_its_own_faults_are_told() -> None:
    owner = carry_out(
        sent(
            bins="storeroom,code\nMAIN,A-01\nMAIN,A-02\nSOUTH,A-01\n",
            drives=PLANT["drives"].replace(",40,", ",4O,"),
        ),
        dry_run=False,
    )

    assert owner.state == ImportSetState.REFUSED
    assert problems(owner)[0] == ("bins", 4, "storeroom", "record_to_refer_to_missing")
    assert {kind for kind, *_ in problems(owner)} == {"bins", "drives", "positions"}
    assert not Plant.objects.exists()
    assert not Storeroom.objects.exists()


def test_what_a_sheet_is_can_be_corrected() -> None:
    owner = make_set([GivenFile("list 7.csv", io.BytesIO(b"code,name\nWEIR,Weir Lane\n"))], by_name="ines")
    number = owner.sheets.get().number

    choose_kinds(owner, {number: ""})
    with pytest.raises(SetRefused, match="no_sheet_has_a_kind"):
        check_ready(owner)
    with pytest.raises(SetRefused, match="kind_of_sheet_not_known"):
        choose_kinds(owner, {number: "wishes"})
    choose_kinds(owner, {number: "plants"})
    carry_out(owner, dry_run=False)

    assert Plant.objects.get().name == "Weir Lane"


def test_the_scheduler_carries_it_out() -> None:
    owner = sent()
    request_set(owner, dry_run=False, by=Requester("ines", "user:1"))
    assert run_queued_jobs() == 1

    owner.refresh_from_db()
    assert owner.state == ImportSetState.DONE
    assert BackgroundJob.objects.get().state == "done"
    with pytest.raises(SetRefused, match="import_is_over"):
        request_set(owner, dry_run=False, by=Requester("ines", "user:1"))


def test_a_template_may_be_filled_as_people_write() -> None:
    """Moments without a zone are those of the storeroom that their row names."""
    done(opening_balances="item,storeroom,quantity\n004713,MAIN,300\n")
    Storeroom.objects.filter(code="NORTH").update(timezone="Europe/Helsinki")
    opened = datetime(2026, 7, 1, 6, 5)
    filled_in = {
        "storerooms": {"code": "QUAY", "name": "Quay", "timezone": "Europe/Vienna"},
        "opening-hours": {"storeroom": "QUAY", "weekday": "Mo", "opens": "6:00", "closes": time(14)},
        "drives": {"tag": "D-9", "equipment": "WL-EL-01", "name": "Spare drive", "chain": "12A-2", "lifting": "Ja"},
        "positions": {"tag": "D-9-A", "drive": "D-9", "role": "driver", "teeth": 19, "shaft_diameter_mm": 40, "key_width_mm": "12x8"},
        "items": {"stock_number": "0800", "description": "Spare", "unit": "each", "kind": "Sprocket", "chain": "12A-2", "teeth": 19},
        "opening-balances": [
            {"item": "0800", "storeroom": "MAIN", "quantity": 2, "counted_at": opened},
            {"item": "0800", "storeroom": "NORTH", "quantity": 3, "counted_at": "1.7.2026 6:05"},
        ],
    }  # fmt: skip
    book = openpyxl.load_workbook(io.BytesIO(workbook_template(filled_in)))
    for kind, row in filled_in.items():
        for one in row if isinstance(row, list) else [row]:
            book[kind].append([one.get(cell.value) for cell in book[kind][1]])
    filled = io.BytesIO()
    book.save(filled)

    owner = make_set([GivenFile("plant.xlsx", filled)], by_name="ines")
    assert [one.key for one in questions_of(mapped_sheets(owner))] == []
    carry_out(owner, dry_run=False)

    assert problems(owner) == []
    assert [(one.weekday, one.opens) for one in OpeningHours.objects.filter(storeroom__code="QUAY")] == [
        (0, time(6))
    ]
    place = Position.objects.select_related("drive").get(tag="D-9-A")
    assert (place.drive.chain_designation, place.drive.strands, place.drive.lifting) == ("12A", 2, True)
    assert (place.shaft_kind, place.key_width_mm, place.key_height_mm) == ("keyed", 12, 8)
    part = Item.objects.get(stock_number="0800").specification
    assert part
    assert (part.kind, part.strands) == ("sprocket", 2)
    counted = StockEntry.objects.filter(item__stock_number="0800").order_by("storeroom__code")
    assert [f"{one.occurred_at.astimezone(UTC):%H:%M}" for one in counted] == ["04:05", "03:05"]


def test_a_full_disk_is_named() -> None:
    owner = sent()
    request_set(owner, dry_run=False, by=Requester("ines", "user:1"))

    with full_disk(table="inventory_item"):
        run_queued_jobs()

    owner.refresh_from_db()
    assert (owner.state, Plant.objects.exists()) == (ImportSetState.INTERRUPTED, False)
    assert [p["code"] for s in owner.sheets.all() for p in s.problems] == ["import_without_room"]
    assert carry_out(owner, dry_run=False).state == ImportSetState.DONE
    assert not any(sheet.problems for sheet in owner.sheets.all())


DRIVES = (
    "Antrieb;Maschine;Bereich;Kette;Z treibend;Z getrieben;Farbe\n"
    "KT-1;M-1;Darre;12B-1;19;57;rot\nKT-2;M-1;Darre;12B-1;19;38;blau\n"
)


def test_a_heading_that_another_kind_of_the_sheet_reads_is_not_left_out() -> None:
    Plant.objects.create(code="AUW", name="Auwiesen", storeroom=StoreroomFactory())
    owner = make_set([GivenFile("Antriebe.csv", io.BytesIO(DRIVES.encode()))], by_name="ines")
    left_out = {
        (one.sheet.kind, note.values["headings"])
        for one in mapped_sheets(owner)
        for part in one.parts
        for note in part.notes
        if note.code == "headings_left_out"
    }
    assert left_out == {(kind, "Farbe") for kind in ("areas", "equipment", "drives", "positions")}


FITTED = "Antrieb;Seite;Artikel;eingebaut;Auftrag\nKT-1;treibend;K-1;03.05.2024;4711\n"


def import_fitted(folder: Path, **given: str) -> tuple[str, dict[str, str | None]]:
    """What the command says, and the file of answers after it."""
    (folder / "Einbauten.csv").write_text(FITTED, encoding="utf-8")
    answers = folder / "answers.json"
    answers.write_text(json.dumps({key.replace("__", ":"): said for key, said in given.items()}))
    out = io.StringIO()
    try:
        call_command("import_files", str(folder / "Einbauten.csv"), answers=answers, dry_run=True, stdout=out)
    except CommandError as error:
        out.write(str(error))
    except SystemExit:
        pass
    return out.getvalue(), json.loads(answers.read_text())


def test_the_command_names_the_file_of_a_question(tmp_path: Path) -> None:
    PlantFactory()
    said, answers = import_fitted(tmp_path)
    assert "Einbauten.csv: installations\n1 missing:position: No heading gives position." in said
    assert answers == {"1 missing:position": None}


def test_an_answer_that_is_changed_in_the_file_counts(tmp_path: Path) -> None:
    PlantFactory()
    said, _ = import_fitted(tmp_path, missing__position="{Antrieb}-{Seite}")
    assert "There is no position 'KT-1-treibend'" in said
    said, _ = import_fitted(tmp_path, missing__position="{Antrieb}-{@side Seite}")
    assert "There is no position 'KT-1-DRIVER'" in said


def test_an_answer_leaves_out_a_column_that_was_not_asked_about(tmp_path: Path) -> None:
    PlantFactory()
    said, _ = import_fitted(tmp_path, **{"1 missing:position": "{Antrieb}-DRIVER", "1 heading:Auftrag": ""})
    assert "Left out: Antrieb, Seite, Auftrag." in said


def test_opening_balances_are_booked_once() -> None:
    done()

    def again(quantity: int) -> ImportSet:
        text = f"item,storeroom,quantity\n004711,MAIN,{quantity}\n"
        given = [GivenFile("stock.csv", io.BytesIO(text.encode()))]
        return carry_out(make_set(given, by_name="ines"), dry_run=False)

    assert again(5).sheets.get().count_of("unchanged") == 1
    assert problems(again(6)) == [("opening-balances", 2, "quantity", "opening_booked_otherwise")]
    assert StockLevel.objects.get(item__stock_number="004711").on_hand == 5


def test_a_shelf_that_is_in_use_takes_no_opening_balance() -> None:
    done(opening_balances="item,storeroom,quantity\n004713,MAIN,300\n")
    item, room = Item.objects.get(stock_number="004711"), Storeroom.objects.get(code="MAIN")
    book(Movement(kind="receipt", item=item, storeroom=room, quantity=1, by="ben"))

    owner = carry_out(
        make_set([GivenFile("stock.csv", io.BytesIO(STOCK.encode()))], by_name="ines"), dry_run=False
    )

    assert problems(owner) == [("opening-balances", 2, "item", "shelf_has_movements")]


def everything() -> dict[str, Any]:
    return {
        model.__name__: sorted(
            map(
                str,
                model._default_manager.values_list(
                    *(f.attname for f in model._meta.concrete_fields if f.name not in ("updated_at",))
                ),
            )
        )
        for model in (Plant, Storeroom, OpeningHours, Position, Item, Specification)
    }


def test_an_undone_import_leaves_what_was_before_it() -> None:
    done(opening_balances="item,storeroom,quantity\n004711,MAIN,5\n")
    before = everything()
    second = done(
        opening_balances="item,storeroom,quantity\n004712,MAIN,2\n",
        items=PLANT["items"].replace("17,B,25", "18,B,26", 1) + "004799,New,each,1,,,sprocket,40,1,11,B,20\n",
        storerooms=PLANT["storerooms"].replace("North storeroom", "Quay storeroom")
        + "WEST,West,,Europe/Vienna,,,\n",
    )
    assert everything() != before

    undo(second, by="ines")

    assert everything() == before
    assert StockLevel.objects.get(item__stock_number="004712").on_hand == 0
    assert second.changes.exists()
    second.refresh_from_db()
    assert second.undo_result == {"reversed": 1, "restored": 2, "kept": 0, "deleted": 3}
    assert verify() == ()


def test_units_that_were_fitted_go_with_their_verdicts() -> None:
    done()
    second = done(
        opening_balances="item,storeroom,quantity\n004712,MAIN,2\n",
        installations="position,item,installed_at\nWL-EL-01-D1-A,004711,2024-02-01T07:30:00Z\n",
    )
    assert RecordedVerdict.objects.filter(installation__position__tag="WL-EL-01-D1-A").count() == 1

    undo(second, by="ines")

    assert not Installation.objects.exists()
    assert not RecordedVerdict.objects.exists()


def test_what_the_ledger_names_stays_and_can_be_imported_again() -> None:
    first = done()

    undo(first, by="ines")

    first.refresh_from_db()
    assert set(Item.objects.values_list("stock_number", flat=True)) == {"004711", "004713"}
    assert not Plant.objects.exists()
    assert sum(StockEntry.objects.values_list("change", flat=True)) == 0
    done()
    assert StockLevel.objects.get(item__stock_number="004711").on_hand == 5
    assert verify() == ()


def test_it_is_not_undone_once_stock_has_moved() -> None:
    owner = done()
    item, room = Item.objects.get(stock_number="004711"), Storeroom.objects.get(code="MAIN")
    book(Movement(kind="issue", item=item, storeroom=room, quantity=1, by="ben"))

    with pytest.raises(SetRefused, match="stock_moved_since"):
        undo(owner, by="ines")

    assert Position.objects.count() == 2


def test_it_is_not_undone_where_something_rests_on_it_or_was_changed_since() -> None:
    owner = done(opening_balances="item,storeroom,quantity\n004713,MAIN,300\n")
    OpeningHours.objects.create(
        storeroom=Storeroom.objects.get(code="NORTH"), weekday=1, opens="06:00", closes="14:00"
    )
    with pytest.raises(SetRefused, match="record_in_use_since"):
        undo(owner, by="ines")
    OpeningHours.objects.filter(weekday=1).delete()

    changed = done(
        opening_balances="item,storeroom,quantity\n004713,MAIN,300\n",
        storerooms=PLANT["storerooms"].replace("North storeroom", "Quay storeroom"),
    )
    Storeroom.objects.filter(code="NORTH").update(name="Ben's storeroom")
    with pytest.raises(SetRefused, match="record_changed_since"):
        undo(changed, by="ines")


def test_an_import_that_nobody_went_on_with_goes_with_its_files() -> None:
    kept, left, new = done(), make_set(files(), by_name="ines"), make_set(files(), by_name="ines")
    old = timezone.now() - timedelta(days=8)
    ImportSet.objects.filter(pk__in=[kept.pk, left.pk]).update(created_at=old)

    call_command("purge", stdout=(said := io.StringIO()))

    assert "1 imports" in said.getvalue()
    assert set(ImportSet.objects.all()) == {kept, new}
    assert set(SentFilePart.objects.values_list("file__set", flat=True)) == {new.pk}
