"""Emergency sheets of the demo plant, printed: one page of A4 for each drive, whatever fits there."""

from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Browser

from drives.models import Drive, Position
from tests.chromium import IS_LONG
from tests.printed_pdf import page_count

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.browser,
    # A browser that is open keeps its loop running under every test that comes after it.
    pytest.mark.skipif(not IS_LONG, reason="PROOF=long prints the sheets of the demo plant"),
]


def test_each_drive_is_one_printed_page(demo_plant: None, browser: Browser, tmp_path: Path, capsys) -> None:
    file = tmp_path / "sheets.html"
    call_command("emergency_sheets", str(file))
    drives = Drive.objects.filter(criticality="vital") | Drive.objects.filter(lifting=True)
    page = browser.new_page()
    page.goto(file.as_uri())
    try:
        assert f"{drives.count()} sheets in" in capsys.readouterr().out
        assert page.locator(".sheet h2").all_inner_texts() == list(
            drives.order_by("equipment__area__plant__code", "equipment__area__code", "tag").values_list(
                "tag", flat=True
            )
        )
        assert page_count(page.pdf(prefer_css_page_size=True)) == drives.count()
        lifting = page.locator(".sheet", has=page.get_by_text("Lifting drive: take no substitute."))
        tags = Position.objects.filter(drive__lifting=True).values_list("tag", flat=True)
        assert all(tag in lifting.inner_text() for tag in tags)
        assert lifting.locator("tbody th").count() == 0
        assert "telephone" in lifting.inner_text()
    finally:
        page.close()


def test_no_sheet_is_written_for_a_plant_that_is_not_known(demo_plant: None, tmp_path: Path) -> None:
    with pytest.raises(Exception, match="--plant: there is no plant 'XX'"):
        call_command("emergency_sheets", str(tmp_path / "sheets.html"), plant="XX")
    assert not list(tmp_path.iterdir())
