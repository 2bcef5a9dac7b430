"""Templates: short lines, no comparison of figures, no arithmetic, every text translatable."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
TEMPLATES = sorted((ROOT / "api").rglob("templates/**/*.html"))
LONGEST_LINE = 120
TAG = re.compile(r"\{%\s*(\w+)\s*(.*?)\s*%\}|\{\{\s*(.*?)\s*\}\}")
COMPARISON = re.compile(r"[<>]|[=!]=\s*-?\d|\d\s*[=!]=")
ARITHMETIC = re.compile(r"\|\s*(?:add|divisibleby|length_is)\b")
BLOCK = re.compile(r"\{% block(?:trans|translate)\b.*?\{% endblock(?:trans|translate) %\}", re.DOTALL)
NAME = "Chain drive spares"
UNITS = {"mm", "in", "h", "min", "kW", "kg", "°C", "x"}


def tags(text: str) -> list[tuple[str, str]]:
    """The name of each tag with what stands in it; no name for a variable."""
    return [(found[1] or "", found[2] or found[3] or "") for found in TAG.finditer(text)]


def texts(source: str) -> list[str]:
    """What a reader would see and no translator."""
    source = re.sub(
        r"\{% block title %\}(.*?)\{% endblock %\}", r"<title>\1</title>", source, flags=re.DOTALL
    )
    source = TAG.sub("\0", BLOCK.sub("\0", source))
    labels = re.findall(r'(?:aria-label|placeholder|alt|title)="([^"]*)"', source)
    shown = re.sub(r"<[^>]*>", "\0", source)
    words = [part.strip(" \n,.:;·()") for part in re.split("\0", shown + "\0" + "\0".join(labels))]
    return [part for part in words if re.search(r"[^\W\d_]", part.replace(NAME, "")) and part not in UNITS]


def where(name: Path) -> str:
    return str(name.relative_to(ROOT))


def test_there_are_templates() -> None:
    assert len(TEMPLATES) > 30


@pytest.mark.parametrize("template", TEMPLATES, ids=where)
def test_no_line_is_too_long(template: Path) -> None:
    lines = template.read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if len(line) > LONGEST_LINE] == []


@pytest.mark.parametrize("template", TEMPLATES, ids=where)
def test_figures_are_compared_in_python(template: Path) -> None:
    found = tags(template.read_text(encoding="utf-8"))
    assert [inside for name, inside in found if name in ("if", "elif") and COMPARISON.search(inside)] == []


@pytest.mark.parametrize("template", TEMPLATES, ids=where)
def test_figures_are_calculated_in_python(template: Path) -> None:
    found = tags(template.read_text(encoding="utf-8"))
    assert [inside for name, inside in found if name == "widthratio" or ARITHMETIC.search(inside)] == []


@pytest.mark.parametrize("template", TEMPLATES, ids=where)
def test_every_text_can_be_translated(template: Path) -> None:
    assert texts(template.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("source", "is_refused"),
    [
        ("{% if x > 1 %}", True),
        ("{% if a|length == 2 %}", True),
        ("{% elif count <= most %}", True),
        ("{% if state == 'open' %}", False),
        ("{% if room == chosen %}", False),
    ],
)
def test_a_comparison_of_figures_is_recognised(source: str, is_refused: bool) -> None:
    assert bool(COMPARISON.search(tags(source)[0][1])) == is_refused


def test_a_text_without_translation_is_recognised() -> None:
    assert texts('<p aria-label="Stock">{% translate "On hand" %} Held {{ held }} mm</p>') == [
        "Held",
        "Stock",
    ]
