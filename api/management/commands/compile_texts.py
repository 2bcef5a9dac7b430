"""`manage.py compile_texts`: the translations as the service reads them, from the files that people write."""

import os
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import Any

from babel.messages.catalog import Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from django.core.management.base import BaseCommand

from api.wording.catalogues import catalogues


class Command(BaseCommand):
    help = "Compiles the translations. Every start does so where they have changed."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        for language, path in catalogues():
            compile_catalogue(language, path)


def compile_catalogue(language: str, path: Path) -> None:
    """Under another name first: processes that start beside one another find a whole file."""
    with path.open("rb") as stream:
        catalogue = read_po(stream, locale=language, abort_invalid=True)
    for message in list(catalogue):
        if not is_translated(message):
            catalogue.delete(message.id, message.context)  # The English text is shown.
    with NamedTemporaryFile(dir=path.parent, suffix=".mo", delete=False) as compiled:
        write_mo(compiled, catalogue)
    os.chmod(compiled.name, 0o644)
    os.replace(compiled.name, path.with_suffix(".mo"))


def is_translated(message: Message) -> bool:
    forms = (message.string,) if isinstance(message.string, str) else message.string or ("",)
    return all(forms)
