"""`manage.py backtest FILE.csv`: compares the stocking rules on a table of demands, one row per item, one column per period."""

import csv
import json
import math
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from django.core.management.base import BaseCommand, CommandError

from api.wording.sentences import sentence
from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.stocking.backtest import TARGETS, BackTest, Promise, run_backtest

MISSING = ("", "NA", "NaN", "nan", "NULL", "null")
LARGEST_DEMAND = 10_000


@dataclass(frozen=True, slots=True)
class DemandTable:
    """The complete rows, and how many rows had a period without a figure."""

    demand: FloatArray
    incomplete: int


class Command(BaseCommand):
    help = (
        "Reads a CSV file of demands (first line: headings; then a row for each item: its names, then the pieces of each"
        " period, oldest first) and prints what each stocking rule would have promised and achieved. Rows in which a"
        " period is missing (empty, NA) are left out and counted."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE.csv", type=Path)
        for name, default, text in (
            ("--first-origin", 24, "periods that the first prediction may use"),
            ("--exposure", 3, "periods that each prediction is for"),
            ("--step", 3, "periods from one origin to the next"),
            ("--id-columns", 1, "columns of names before the periods"),
        ):
            parser.add_argument(name, type=int, default=default, metavar="N", help=text)
        parser.add_argument(
            "--targets",
            type=promise,
            nargs="+",
            default=list(TARGETS),
            metavar="SHARE",
            help="promised services",
        )
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        table = read_table(options["file"], options["id_columns"])
        try:
            found = run_backtest(
                table.demand,
                **{name: options[name] for name in ("first_origin", "exposure", "step", "targets")},
            )
        except ValueError as error:
            raise CommandError(explained(str(error))) from error
        for line in as_json(found, table) if options["json"] else as_table(found, table):
            self.stdout.write(line)


def promise(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 < value < 1:
        raise ArgumentTypeError(f"{text} is no share between 0 and 1, such as 0.95")
    return value


def explained(text: str) -> str:
    """The core's message with the names of the options."""
    for name in ("first_origin", "exposure", "step"):
        text = text.replace(f"`{name}`", "--" + name.replace("_", "-"))
    return text.replace("`demand`", "the file")


def read_table(path: Path, id_columns: int) -> DemandTable:
    if id_columns < 0:
        raise CommandError(f"--id-columns must be 0 or more, not {id_columns}.")
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            lines = csv.reader(file, strict=True)
            headings = next(lines, [])
            if len(headings) <= id_columns:
                raise CommandError(f"{path}: the first line has no column after the {id_columns} of names.")
            rows = [
                row
                for cells in lines
                if any(cells) and (row := read_row(path, lines.line_num, cells, headings, id_columns))
            ]
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise CommandError(f"{path} is no CSV file in UTF-8: {error}.") from error
    complete = [row for row in rows if None not in row]
    if not complete:
        raise CommandError(f"{path} holds no row in which every period has a figure.")
    return DemandTable(np.array(complete, dtype=np.float64), len(rows) - len(complete))


def read_row(
    path: Path, line: int, cells: Sequence[str], headings: Sequence[str], id_columns: int
) -> list[float | None]:
    if len(cells) != len(headings):
        raise CommandError(
            f"{path}, line {line}: {len(cells)} columns, where the first line has {len(headings)}."
        )
    return [
        pieces(cells[place], f"{path}, line {line}, column {place + 1} ({headings[place]})")
        for place in range(id_columns, len(headings))
    ]


def pieces(text: str, where: str) -> float | None:
    if text.strip() in MISSING:
        return None
    try:
        value = float(text)
    except ValueError:
        raise CommandError(
            f"{where}: {text!r} is no number. With more columns of names, set --id-columns."
        ) from None
    if not (value >= 0 and value.is_integer()):
        raise CommandError(f"{where}: {text!r} must be a whole number of pieces, 0 or more.")
    if value > LARGEST_DEMAND:
        raise CommandError(f"{where}: {text!r} is more than {LARGEST_DEMAND:,} pieces.")
    return value


def as_table(found: BackTest, table: DemandTable) -> Iterator[str]:
    width = max(len(one.rule) for one in found.promises)
    yield f"{'rule':{width}}  promised  achieved   95 % interval    fill rate  leftover  verdict"
    for one in found.promises:
        yield table_row(one, width)
    yield "* least left over of the rules that did not miss the promise. Leftover: pieces per item and window."
    if found.calibrations:
        yield f"\n{'rule':{width}}  mean score (CRPS)  PIT, ten bins"
    for score in found.calibrations:
        bins = " ".join(f"{value:.3f}" for value in score.pit)
        yield f"{score.rule:{width}}  {score.mean_score:17.4f}  {bins}"
    yield ""
    yield from map(sentence, reasons(found, table))


def table_row(one: Promise, width: int) -> str:
    return (
        f"{one.rule:{width}}  {one.promised:8.4g}  {one.achieved:8.4f}  {one.low:.4f} - {one.high:.4f}"
        f"  {one.fill_rate:9.4f}  {one.mean_leftover:8.3f}  {one.verdict}{' *' if one.is_best else ''}"
    )


def reasons(found: BackTest, table: DemandTable) -> tuple[Fact, ...]:
    if not table.incomplete:
        return found.reasons
    return (*found.reasons, fact("incomplete_rows_left_out", count=table.incomplete))


def as_json(found: BackTest, table: DemandTable) -> Iterator[str]:
    shown = reasons(found, table)
    answer = asdict(replace(found, reasons=())) | {
        "incomplete_rows": table.incomplete,
        "reasons": [{**reason.as_json(), "explanation": sentence(reason)} for reason in shown],
    }
    yield json.dumps(answer, indent=1)
