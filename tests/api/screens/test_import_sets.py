import io
import zipfile
from typing import Any

import openpyxl
import pytest
from django.contrib.auth.models import Group
from django.core.files.uploadedfile import SimpleUploadedFile

from api.exchange import set_runs
from api.models import ImportSet, ImportSetState, ImportSheet, Reach, Role, SourceAnswer
from drives.models import Drive, Position
from inventory.models import Item
from tests.api.exchange.files import PLANT
from tests.factories import DriveFactory, PlantFactory, PositionFactory, StoreroomFactory
from tests.jobs import run_queued_jobs
from tests.pages import signed_in

pytestmark = pytest.mark.django_db
RECORDS = list(PLANT)[: list(PLANT).index("movements")]


@pytest.fixture
def ines(client: Any, django_user_model: Any) -> Any:
    user = django_user_model.objects.create_user("ines")
    user.groups.add(Group.objects.get_or_create(name=Role.MANAGER)[0])
    client.force_login(user)
    return client


def send(client: Any, **changes: str) -> Any:
    texts = {kind: PLANT[kind] for kind in RECORDS} | {
        name.replace("_", "-"): one for name, one in changes.items()
    }
    files = [SimpleUploadedFile(f"{kind}.csv", text.encode()) for kind, text in texts.items() if text]
    return client.post("/imports/", {"files": files, "together": "1"}, follow=True)


def press(client: Any, button: str, **chosen: str) -> str:
    owner = ImportSet.objects.get()
    client.post(
        f"/imports/{owner.pk}/",
        {button: "1", **{name.replace("kind_", "kind-"): one for name, one in chosen.items()}},
    )
    run_queued_jobs()
    return str(client.get(f"/imports/{owner.pk}/").content.decode())


def test_a_plant_comes_in_by_page_and_goes_again(ines: Any) -> None:
    shown = send(ines).content.decode()
    assert '<option value="items" selected>' in shown

    assert "Nothing is wrong." in press(ines, "try")
    assert not Item.objects.exists()
    assert "What is missing to judge every place" in press(ines, "write")
    assert Position.objects.count() == 2
    assert "What is missing of items on the shelf" in ines.get("/planning/missing/").content.decode()

    ImportSheet.objects.filter(kind="rules").update(kind="meter-readings")
    shown = ines.get(f"/imports/{ImportSet.objects.get().pk}/").content.decode()
    assert ("brought meter readings" in shown, 'name="undo"' in shown) == (True, False)
    ImportSheet.objects.filter(kind="meter-readings").update(kind="rules")
    undone = ines.post(f"/imports/{ImportSet.objects.get().pk}/", {"undo": "1"}, follow=True).content.decode()
    assert "as before, 0 movements reversed" in undone
    assert not Item.objects.exists()


def test_what_is_missing_is_filled_in_its_workbook_and_imported(ines: Any) -> None:
    lengths = ("pitch_mm", "roller_diameter_mm", "inner_width_mm", "transverse_pitch_mm")
    drive = DriveFactory(tag="D-1", name="=Head")
    Drive.objects.update(chain_designation="", **dict.fromkeys(lengths))
    PositionFactory(tag="P-1", drive=drive, teeth=None, shaft_diameter_mm=None)
    other = PositionFactory(tag="P-2", drive=drive, key_width_mm=None, key_height_mm=8, key_standard="")
    assert "0 of 2 positions in use can be judged" in ines.get("/planning/missing/").content.decode()
    book = openpyxl.load_workbook(io.BytesIO(ines.get("/planning/missing.xlsx").content))
    assert book.sheetnames == ["Meaning", "drives missing", "positions missing"]
    sheet = book["positions missing"]
    names = {cell.value: cell.column for cell in sheet[1]}
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == ["P-1", "P-2"]
    given = {"P-1": {"teeth": 19, "shaft_diameter_mm": "35 mm"}, "P-2": {"key_width_mm": "12 x 8"}}
    for row in sheet.iter_rows(min_row=2):
        for name, value in given[row[0].value].items():
            assert row[names[name] - 1].value is None
            row[names[name] - 1].value = value
    assert sheet.cell(3, names["teeth"]).value == "✓"
    filled = io.BytesIO()
    book.save(filled)
    drive.save()  # Meanwhile somebody else says which chain it is, and corrects the other.
    Position.objects.filter(pk=other.pk).update(teeth=21)

    ines.post("/imports/", {"files": SimpleUploadedFile("missing.xlsx", filled.getvalue())})
    press(ines, "write")

    drives, positions = ImportSet.objects.get().sheets.all()
    assert drives.counts == {"unchanged": 1}
    changes = {row["key"]: {c["column"]: c["after"] for c in row["changes"]} for row in positions.row_results}
    assert changes == {"P-1": {"teeth": 19, "shaft_diameter_mm": "35"}, "P-2": {"key_width_mm": "12"}}
    assert Position.objects.get(tag="P-2").teeth == 21
    assert "2 of 2 positions in use can be judged" in ines.get("/planning/missing/").content.decode()


def test_what_is_wrong_is_named_with_its_line(ines: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(set_runs, "ROWS_KEPT", 1)
    send(ines, plants="code,name\nWEIR,Weir Lane\n", areas="plant,code,name\nWIER,STEEP,Steeping\n")

    shown = press(ines, "write")

    assert "Nothing was written." in shown
    assert "There is no plant &#x27;WIER&#x27;" in shown
    rows = b"".join(ines.get(f"/imports/{ImportSet.objects.get().pk}/rows.csv").streaming_content).decode()
    assert "areas.csv,areas,2,WIER / STEEP,rejected,plant" in rows
    assert 'items.csv,items,,,,,,,"1 rows are listed, 4 more are counted only."' in rows
    assert "1 rows are listed, 4 more are counted only." in shown


def test_questions_of_two_files_are_asked_once_on_one_page(ines: Any) -> None:
    StoreroomFactory(code="MAIN", timezone="Europe/Vienna")
    PlantFactory(code="AUW", timezone="Europe/Vienna")
    parts = "Artikel-Nr.;Text;Art;Kette;Zähne;Preis;Gewicht\nK-1;Rad;Ritzel;12B-1;19;1.250;1.500\n"
    drives = "Drive No;Machine;Section;Chain;Driver teeth;Driven teeth\nKC-1;M-1;Intake;12B-1;19;38\n"
    texts = {"Teile 2026-11.csv": parts, "Drives.csv": drives}
    files = [SimpleUploadedFile(name, text.encode()) for name, text in texts.items()]
    shown = ines.post("/imports/", {"files": files}, follow=True).content.decode()
    assert "2 questions" in shown
    assert "How are the cells of &#x27;Preis&#x27;, &#x27;Gewicht&#x27; meant?" in shown
    assert 'name="try"' not in shown
    owner = ImportSet.objects.get()
    other = signed_in("integration", "ingo")
    other.post(f"/imports/{owner.pk}/", {"answer": "1", "answer 1 reading:Preis": "comma"})
    assert "A manager has to answer them." in other.get(f"/imports/{owner.pk}/").content.decode()
    assert not SourceAnswer.objects.exists()

    answers = {"answer 1 reading:Preis": "point", "text 5 missing:tag": "{Drive No}/{side}"}
    assert "No heading gives" not in press(ines, "answer", **answers)
    assert "Nothing is wrong." in press(ines, "try")
    press(ines, "write")
    assert sorted(Position.objects.values_list("tag", flat=True)) == ["KC-1/DRIVEN", "KC-1/DRIVER"]
    assert set(SourceAnswer.objects.values_list("source", flat=True)) == {"Teile", "Drives"}


def test_a_file_that_would_take_long_is_told_at_once_and_the_rest_is_named_harmlessly(ines: Any) -> None:
    texts = io.BytesIO()
    with zipfile.ZipFile(texts, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "<a/>")
        archive.writestr("xl/sharedStrings.xml", "".join(f"<si><t>{n}</t></si>" for n in range(30_000)))
    items = b"stock_number,description,kind\n=1+1,One,other\n"
    files = {"texts.xlsx": texts.getvalue(), "items.csv": items}
    sent = [SimpleUploadedFile(name, content) for name, content in files.items()]
    assert "30000 texts" in ines.post("/imports/", {"files": sent}, follow=True).content.decode()

    press(ines, "write")
    rows = b"".join(ines.get(f"/imports/{ImportSet.objects.get().pk}/rows.csv").streaming_content).decode()
    assert ",'=1+1,created" in rows


def test_a_sheet_can_be_read_as_something_else_as_well(ines: Any) -> None:
    file = SimpleUploadedFile("Items.csv", b"stock_number,description,kind\nK-1,One,other\n")
    ines.post("/imports/", {"files": file})
    assert "bins" in press(ines, "look", **{"beside-1": "bins"})
    kinds = ImportSet.objects.get().sheets.values_list("kind", flat=True)
    assert list(kinds) == ["items", "bins"]


def test_a_sheet_can_be_left_out_or_corrected(ines: Any) -> None:
    send(
        ines,
        **dict.fromkeys((kind.replace("-", "_") for kind in RECORDS[1:]), ""),
        machine_shops=PLANT["machine-shops"],
    )

    shown = press(ines, "try", kind_1="")

    assert ImportSet.objects.get().state == ImportSetState.PROPOSED
    assert "leave out" in shown


def test_roles_and_limits_hold(client: Any, django_user_model: Any, ines: Any) -> None:
    send(ines)
    key = ImportSet.objects.get().pk
    viewer = django_user_model.objects.create_user("vera")
    viewer.groups.add(Group.objects.get_or_create(name=Role.VIEWER)[0])
    client.force_login(viewer)
    assert send(client).status_code == 403
    assert client.post(f"/imports/{key}/", {"write": "1"}).status_code == 403
    Reach.objects.create(user=viewer).storerooms.add(StoreroomFactory())
    assert client.get(f"/imports/{key}/").status_code == 404
    counter = django_user_model.objects.create_user("carl")
    counter.groups.add(Group.objects.get_or_create(name=Role.INTEGRATION)[0])
    client.force_login(counter)
    refused = client.post(f"/imports/{key}/", {"write": "1", "kind-1": "stock-policies"})
    assert refused.status_code == 409
    assert "your role may not import" in refused.content.decode()


def test_nothing_sent_says_what_to_do(ines: Any) -> None:
    answer = ines.post("/imports/", {"together": "1"})

    assert answer.status_code == 400
    assert "choose the files first" in answer.content.decode()


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("plant.xlsx", b"PK"),
        ("items.xlsx", b"PK"),
        ("items.csv", b"stock_number,"),
        ("columns.csv", b"File,Column"),
    ],
)
def test_templates_are_downloads(ines: Any, name: str, begins: bytes) -> None:
    answer = ines.get(f"/imports/templates/{name}")

    assert answer.content.startswith(begins)
    assert answer["Content-Disposition"] == f'attachment; filename="{name}"'


def test_there_is_no_template_of_what_no_kind_is(ines: Any) -> None:
    assert ines.get("/imports/templates/wishes.csv").status_code == 404
