"""Emergency sheets of the demo plant, printed: one page of A4 for each drive, whatever fits there."""

import re
from pathlib import Path

import pytest
from django.core.management import call_command

from drives.models import Drive, Position
from tests.printed_pdf import page_count, printed_file

pytestmark = [pytest.mark.django_db, pytest.mark.browser]


def test_each_drive_is_one_printed_page(
    demo_plant: None, chromium_here: None, tmp_path: Path, capsys
) -> None:
    file = tmp_path / "sheets.html"
    call_command("emergency_sheets", str(file))
    drives = Drive.objects.filter(criticality="vital") | Drive.objects.filter(lifting=True)
    assert f"{drives.count()} sheets in" in capsys.readouterr().out
    sheets = re.split(r'<[a-z]+ class="sheet[ "]', file.read_text(encoding="utf-8"))[1:]
    headings = [
        re.sub(r"<[^>]*>", "", re.findall(r"<h2[^>]*>(.*?)</h2>", one, re.S)[0]).strip() for one in sheets
    ]
    in_order = drives.order_by("equipment__area__plant__code", "equipment__area__code", "tag")
    assert headings == list(in_order.values_list("tag", flat=True))
    assert page_count(printed_file(file)) == drives.count()
    (lifting,) = [one for one in sheets if "Lifting drive: take no substitute." in one]
    tags = Position.objects.filter(drive__lifting=True).values_list("tag", flat=True)
    assert all(tag in lifting for tag in tags)
    assert not re.search(r"<tbody.*?<th", lifting, re.S)
    assert "telephone" in lifting


def test_no_sheet_is_written_for_a_plant_that_is_not_known(demo_plant: None, tmp_path: Path) -> None:
    with pytest.raises(Exception, match="--plant: there is no plant 'XX'"):
        call_command("emergency_sheets", str(tmp_path / "sheets.html"), plant="XX")
    assert not list(tmp_path.iterdir())
