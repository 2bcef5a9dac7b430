"""`manage.py extract_texts`: every text of the pages and sentences into the catalogues, for translators."""

from collections.abc import Iterator
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils.translation.template import templatize

from api.management.commands.compile_texts import is_translated
from api.wording.catalogues import catalogues

PARTS = ("api", "drives", "inventory")
FUNCTIONS: dict[str, Any] = {
    **dict.fromkeys(("_", "gettext", "gettext_lazy", "gettext_noop")),
    **dict.fromkeys(("ngettext", "ngettext_lazy"), (1, 2)),
    **dict.fromkeys(("pgettext", "pgettext_lazy"), ((1, "c"), 2)),
    **dict.fromkeys(("npgettext", "npgettext_lazy"), ((1, "c"), 2, 3)),
}
WRITTEN_ON = datetime(2026, 1, 1, tzinfo=UTC)
"""One moment for all, so that a catalogue changes with its texts alone."""


class Command(BaseCommand):
    help = "Takes every text into the catalogues under api/locale; a translation stays with its text."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        found = extracted(settings.BASE_DIR)
        for language, path in catalogues():
            with path.open("rb") as stream:
                known = read_po(stream, locale=language)
            merged = with_translations(found, known)
            with path.open("wb") as stream:
                write_po(stream, merged, width=120, sort_output=True)
            missing = sum(1 for message in merged if message.id and not is_translated(message))
            self.stdout.write(f"{language}: {len(merged)} texts, {missing} without a translation.")


def extracted(root: Path) -> Catalog:
    catalogue = Catalog(charset="utf-8")
    for _, message, comments, context in (found for path in sources(root) for found in texts_in(path)):
        catalogue.add(message, auto_comments=comments, context=context)
    return catalogue


def sources(root: Path) -> Iterator[Path]:
    for part in PARTS:
        found = (root / part).rglob("*")
        yield from sorted(
            path
            for path in found
            if path.suffix in (".py", ".html", ".txt") and "migrations" not in path.parts
        )


def texts_in(path: Path) -> Iterator[tuple[int, Any, list[str], str | None]]:
    """A template becomes Python first, in brackets, as its indentation means nothing."""
    source = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        source = f"(\n{templatize(source, origin=str(path))}\n)"
    return extract("python", BytesIO(source.encode()), FUNCTIONS, ["Translators:"], {"encoding": "utf-8"})


def with_translations(found: Catalog, known: Catalog) -> Catalog:
    """What is no longer used stays as a comment: a text may come back with another branch."""
    translations = {_key(message): message for message in [*known.obsolete.values(), *known]}
    merged = Catalog(
        known.locale,
        project="chain-drive-spares",
        header_comment="# Texts of the service; glossary.csv holds the words of the trade.",
        creation_date=WRITTEN_ON,
        revision_date=WRITTEN_ON,
        fuzzy=False,
    )
    for message in found:
        if message.id:
            before = translations.pop(_key(message), None)
            merged.add(message.id, before.string if before else "", context=message.context)
    for message in translations.values():
        if message.id and is_translated(message):
            merged.obsolete[message.id] = message
    return merged


def _key(message: Message) -> tuple[Any, str | None]:
    return message.id, message.context
