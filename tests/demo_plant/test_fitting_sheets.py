"""Fitting sheets of the demo plant, printed: one page of A4, also with most work and most to review."""

import re
from html import unescape
from pathlib import Path

import pytest
from django.test import Client
from django.utils import timezone

from drives.substitutes.offers import substitutes_for_position
from drives.substitutes.position_requirement import positions_with_requirements
from inventory.interchange.vocabulary import Grade
from tests.factories import UserFactory
from tests.printed_pdf import page_count, page_sizes_mm, printed_file

pytestmark = [pytest.mark.django_db, pytest.mark.browser]

STYLES = Path(__file__).resolve().parents[2] / "api/screens/static"
LINK = re.compile(r'<link rel="stylesheet" href="/static/(\w+)[\w.]*\.css">')
PLACES = 40


def with_styles(html: str) -> str:
    return LINK.sub(lambda link: f"<style>{(STYLES / f'{link[1]}.css').read_text()}</style>", html)


def longest_sheets() -> list[tuple[str, str]]:
    """Of each grade, place and part with the most work and the most that speaks against it."""
    found: dict[Grade, tuple[int, str, str]] = {}
    for place in positions_with_requirements().filter(drive__lifting=False)[:PLACES]:
        for offer in substitutes_for_position(place, here_id=None, at=timezone.now()).offers:
            verdict = offer.candidate.verdict
            length = 2 * len(verdict.work) + len(verdict.deciding)
            if verdict.grade is not Grade.UNFIT and length >= found.get(verdict.grade, (0,))[0]:
                found[verdict.grade] = length, place.tag, offer.candidate.item.stock_number
    return [(tag, number) for _, tag, number in found.values()]


def read_on_paper(html: str) -> str:
    """The words of the page without what is closed and without marks."""
    main = html.partition("<main")[2].partition("</main>")[0]
    shown = re.sub(r"<details.*?</details>|<[^>]*>", "", main, flags=re.DOTALL)
    return unescape(" ".join(shown.split()))


def test_a_sheet_is_one_printed_page_without_a_word_on_stock_policy(
    demo_plant: None, chromium_here: None, tmp_path: Path
) -> None:
    client = Client()
    client.force_login(UserFactory())
    sheets, told_whom_to_ask = longest_sheets(), 0
    for at, (tag, number) in enumerate(sheets):
        html = with_styles(client.get(f"/positions/{tag}/", {"part": number}).content.decode())
        file = tmp_path / f"{at}.html"
        file.write_text(html, encoding="utf-8")
        pdf = printed_file(file)
        assert (tag, number, page_count(pdf)) == (tag, number, 1)
        assert page_sizes_mm(pdf) == [pytest.approx((210, 297), abs=0.2)]
        shown = read_on_paper(html)
        assert "Check in the hand" in shown
        assert "Slack:" in shown
        assert "reorder point" not in shown.lower()
        told_whom_to_ask += "Approved by" in shown and "fitting shop, +49" in shown
    assert (len(sheets), told_whom_to_ask) == (3, 1)
