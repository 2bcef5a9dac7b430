"""Help: every grade, check and figure has a place of its own, and no link leads to none."""

import re
from pathlib import Path

from api.screens.lists.declared import EXPLAINED, LISTS
from api.screens.page_filters import explained
from api.wording.manager_figures import SENTENCES
from api.wording.terms import TERM_OF, TERMS
from drives.models import Drive
from inventory.interchange.vocabulary import Aspect, Grade

TEMPLATES = Path(__file__).resolve().parents[3] / "api" / "screens" / "templates"
NAMED = re.compile(r'\{% explained (?:forloop\.first\|yesno:)?"([\w-]+),?"')
UNNAMED = re.compile(r"\{% explained (?!\")([\w.]+)")


def test_every_grade_check_and_figure_is_explained_once() -> None:
    names = [term.name for _name, _title, terms in TERMS for term in terms]
    assert len(names) == len(set(names)) == len(TERM_OF)
    expected = {f"grade-{grade.value}" for grade in Grade} | {f"check-{aspect.value}" for aspect in Aspect}
    expected |= {f"figure-{name.removeprefix('figure_')}" for name in SENTENCES if name.startswith("figure_")}
    classes = [value or "without_class" for value, _label in Drive._meta.get_field("criticality").flatchoices]
    expected |= {f"figure-filled_{name}" for name in [*classes, "without_class"]}
    assert expected - {"figure-filled"} <= set(names)


def test_an_explanation_says_more_than_its_words() -> None:
    short = [
        term.name
        for term in TERM_OF.values()
        if len(str(term.meaning)) < 25 or str(term.words) == str(term.meaning)
    ]
    assert short == []


def test_every_link_of_a_page_leads_to_a_term() -> None:
    text = "".join(path.read_text() for path in TEMPLATES.rglob("*.html"))
    named = NAMED.findall(text)
    assert len(named) > 100
    for name in named:
        assert f'/help/#{name}"' in explained(name)
    of_grade_or_heading = {
        "grade",
        "group.grade",
        "unfit",
        "sheet.card.grade",
        "judged.grade",
        "pair.grade",
        "finding.aspect",
        "heading.term",
        "forloop.first",
        "one.term",
        "section.term",
        "shown.term",
    }
    assert set(UNNAMED.findall(text)) <= of_grade_or_heading


def test_every_explanation_of_a_column_belongs_to_a_list() -> None:
    columns = {name for page in LISTS.values() for name in page.column_names}
    assert set(EXPLAINED.values()) <= set(TERM_OF)
    assert set(EXPLAINED) <= columns | {"holding_reason"}
