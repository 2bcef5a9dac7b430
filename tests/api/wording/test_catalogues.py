"""Every text of the service is in the catalogues, German is complete, and a translation says what its text says."""

import re
from functools import cache

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po
from django.conf import settings
from django.utils import translation

from api.management.commands.compile_texts import is_translated
from api.management.commands.extract_texts import extracted
from api.wording.catalogues import catalogues, uncompiled

PLACES = re.compile(r"\{[^{}]*\}|%\(\w+\)s|%%|</?\w+[^<>]*>")


@cache
def catalogue(language: str) -> Catalog:
    path = dict(catalogues())[language]
    with path.open("rb") as stream:
        return read_po(stream, locale=language)


def keys(texts: Catalog) -> set[tuple[object, str | None]]:
    return {(one.id, one.context) for one in texts if one.id}


def forms(text: object) -> list[str]:
    return [text] if isinstance(text, str) else list(text)  # type: ignore[call-overload]


def places(text: str) -> list[str]:
    """What is filled in, and markup; a word may begin the sentence in one language and not in the other."""
    return sorted(found.replace(":Words}", ":words}") for found in PLACES.findall(text))


def unlike(message: Message) -> bool:
    """A singular may leave out the number that its plural names."""
    asked, shown = ([places(form) for form in forms(text)] for text in (message.id, message.string))
    return shown[-1] != asked[-1] or any(form not in asked for form in shown)


def test_there_is_a_catalogue_for_each_language_offered() -> None:
    assert {language for language, _ in catalogues()} == {code for code, _ in settings.LANGUAGES} - {"en"}
    assert uncompiled() == []


def test_the_catalogues_hold_the_texts_of_today() -> None:
    """If not: `manage.py extract_texts`, then translate what it counts."""
    today = keys(extracted(settings.BASE_DIR))
    assert {code: keys(catalogue(code)) ^ today for code, _ in catalogues()} == {"de": set(), "es": set()}


def test_every_text_has_its_german() -> None:
    assert [one.id for one in catalogue("de") if one.id and not is_translated(one)] == []


@pytest.mark.parametrize("language", ["de", "es"])
def test_a_translation_has_the_places_and_markup_of_its_text(language: str) -> None:
    assert [one.id for one in catalogue(language) if one.id and is_translated(one) and unlike(one)] == []


def test_a_lost_place_is_recognised() -> None:
    assert unlike(Message("{chain} fits {rim}", "{chain} passt"))
    assert unlike(Message(("1 link", "{n} links"), ("1 Glied", "Glieder")))
    assert not unlike(Message("{a} on {b:words}", "{b:Words}: {a}"))


def test_what_has_no_translation_is_shown_in_english() -> None:
    untranslated = next(
        one.id for one in catalogue("es") if isinstance(one.id, str) and one.id and not one.string
    )
    with translation.override("es"):
        assert translation.gettext(untranslated) == untranslated
