"""Help: every grade, check and figure has a place of its own, and no link leads to none."""

import re
from pathlib import Path

from api.screens.page_filters import TERM_OF, explained
from api.wording.terms import TERMS
from inventory.interchange.vocabulary import Aspect, Grade

TEMPLATES = Path(__file__).resolve().parents[3] / "api" / "screens" / "templates"


def test_every_grade_and_check_is_explained_once() -> None:
    names = [term.name for _title, terms in TERMS for term in terms]
    assert len(names) == len(set(names))
    expected = {f"grade-{grade.value}" for grade in Grade} | {f"check-{aspect.value}" for aspect in Aspect}
    assert expected <= set(names)
    assert all(str(term.meaning) for term in TERM_OF.values())


def test_every_link_of_a_page_leads_to_a_term() -> None:
    text = "".join(path.read_text() for path in TEMPLATES.rglob("*.html"))
    named = re.findall(r'\{% explained "([\w-]+)"', text)
    assert len(named) > 5
    for name in named:
        assert f'/help/#{name}"' in explained(name)
