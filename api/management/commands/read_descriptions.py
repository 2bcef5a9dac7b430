"""`manage.py read_descriptions`: reads the descriptions of items, or the lines of a file, into attributes."""

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, TextIO

from django.core.management.base import BaseCommand, CommandError

from api.edge.caller import acting_as
from api.exchange.described_items import ReadCounts, as_json, write_description
from api.wording.sentences import sentence
from inventory.catalogue.described_items import DescribedItem, describe
from inventory.descriptions.reader import LONGEST_LINE
from inventory.models import Item

AT_ONCE = 500


class Command(BaseCommand):
    help = (
        "Reads the descriptions of items and shows what was found; nothing is written without --write, and then only "
        "unknown attributes of specifications whose line is parsed."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--stock-number", nargs="+", metavar="NUMBER", help="read these items only")
        parser.add_argument(
            "--file", metavar="FILE", help="read the lines of a text file instead; '-' is standard input"
        )
        parser.add_argument("--save", metavar="FILE", help="save every reading as a line of JSON")
        parser.add_argument("--write", action="store_true", help="fill what is unknown in the specifications")
        parser.add_argument("--quiet", action="store_true", help="print the counts only")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["file"] and (options["write"] or options["stock_number"]):
            raise CommandError(
                "--file goes with neither --write nor --stock-number: its lines belong to no item."
            )
        with ExitStack() as stack:
            stack.enter_context(acting_as("read_descriptions"))
            save = stack.enter_context(_opened(options["save"], "w")) if options["save"] else None
            if options["file"]:
                source = (
                    sys.stdin
                    if options["file"] == "-"
                    else stack.enter_context(_opened(options["file"], "r"))
                )
                self._read(_lines(source), save, options)
            else:
                self._read(_items(options["stock_number"], write=options["write"]), save, options)

    def _read(self, described: Iterator[DescribedItem], save: TextIO | None, options: dict[str, Any]) -> None:
        counts = ReadCounts()
        for one in described:
            counts.count(one, written=options["write"] and one.can_be_written)
            if save is not None:
                save.write(json.dumps(as_json(one), ensure_ascii=False) + "\n")
            if not options["quiet"]:
                self.stdout.write(_shown(one))
        self.stdout.write(
            f"Lines parsed: {counts.parsed}; to review: {counts.needs_review}; not one sprocket: {counts.rejected}. "
            + self._written(counts, options)
        )

    def _written(self, counts: ReadCounts, options: dict[str, Any]) -> str:
        if options["file"]:
            return "Lines of a file are only shown."
        done = (
            f"Items filled: {counts.written}"
            if options["write"]
            else f"Items that --write fills: {counts.fillable}"
        )
        return f"{done}; left alone because the record says otherwise: {counts.refused}."


def _opened(name: str, mode: str) -> TextIO:
    try:
        return Path(name).open(mode, encoding="utf-8")  # type: ignore[return-value]
    except OSError as error:
        raise CommandError(f"{name} cannot be opened: {error.strerror}.") from error


def _items(numbers: list[str] | None, *, write: bool) -> Iterator[DescribedItem]:
    items = Item.objects.exclude(description="").order_by("pk")
    if numbers:
        items = items.filter(stock_number__in=numbers)
        missing = sorted(set(numbers) - set(items.values_list("stock_number", flat=True)))
        if missing:
            raise CommandError(f"No item with a description has the stock number {', '.join(missing)}.")
    if write:
        for pk in items.values_list("pk", flat=True):
            yield write_description(pk)
    else:
        for item in items.with_specification().iterator(AT_ONCE):
            yield describe(item)


def _lines(source: TextIO) -> Iterator[DescribedItem]:
    try:
        for number, line in enumerate(source, 1):
            text = line.rstrip("\r\n")
            if len(text) > LONGEST_LINE:
                raise CommandError(
                    f"Line {number} has {len(text)} characters, more than {LONGEST_LINE}: shorten it."
                )
            if text.strip():
                yield describe(Item(stock_number=str(number), description=text))
    except UnicodeDecodeError as error:
        raise CommandError(f"The file is not in UTF-8 (byte {error.start}): save it in UTF-8.") from error


def _shown(described: DescribedItem) -> str:
    reading = described.reading
    values = " ".join(
        f"{name}={found.value}" + ("" if found.basis == "stated" else f" ({found.basis})")
        for name, found in reading.attributes.items()
    )
    questions = " ".join(sentence(one) for one in reading.questions)
    refusal = sentence(described.refusal) if described.refusal else ""
    fills = f"fills {', '.join(sorted(described.fills))}" if described.can_be_written else ""
    parts = [
        described.item.stock_number,
        described.item.description,
        reading.outcome,
        values,
        questions,
        refusal,
        fills,
    ]
    return "\t".join(part for part in parts if part)
