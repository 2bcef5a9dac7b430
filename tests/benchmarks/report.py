"""The table of all benchmarks on the synthetic group in the database that DATABASE_URL names.

    DATABASE_URL=... python -m tests.benchmarks.report [--only PROBE ...] [--json FILE] [--smaller FILE]

`--smaller` names the JSON of the same report on a group of a tenth of the size: it gives the column of growth. The command
fails when a goal is not met.
"""

import argparse
import importlib
import json
import os
import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "api.settings")

import django

from tests.benchmarks.measures import Measure

PROBES: tuple[str, ...] = (
    "assortment",
    "descriptions",
    "issues",
    "exposure",
    "imports",
    "lists",
    "recomputing",
    "shared_shelves",
    "substitutes",
)
"""Modules beside this one with a function `measures() -> Iterator[Measure]`."""


def measured(probes: list[str], smaller: dict[str, float]) -> Iterator[Measure]:
    for probe in probes:
        for measure in importlib.import_module(f"tests.benchmarks.{probe}").measures():
            before = smaller.get(measure.what)
            yield replace(measure, growth=measure.ours / before) if before else measure


def line(measure: Measure) -> str:
    def cell(value: float | None, width: int = 12) -> str:
        return f"{'' if value is None else format(value, ',.3g'):>{width}}"

    bound = f"{measure.judged} {'≥' if measure.at_least else '≤'} {measure.goal:g}"
    met = {True: "yes", False: "NO", None: "-"}[measure.met]
    return (
        f"{measure.what:52}{cell(measure.ours)} {measure.unit:8}{cell(measure.anchor)} {measure.anchor_name:30}"
        f"{cell(measure.ratio, 8)}{cell(measure.growth, 8)}  {bound:14}  {met}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--only", nargs="+", choices=PROBES, default=list(PROBES))
    parser.add_argument("--json", type=Path)
    parser.add_argument("--smaller", type=Path)
    options = parser.parse_args()
    django.setup()
    smaller = {}
    if options.smaller:
        smaller = {row["what"]: row["ours"] for row in json.loads(options.smaller.read_text())}
    print(
        f"{'what':52}{'ours':>12} {'':8}{'anchor':>12} {'':30}{'ratio':>8}{'growth':>8}  {'goal':14}  met",
        flush=True,
    )
    found = []
    for measure in measured(options.only, smaller):
        found.append(measure)
        print(line(measure), flush=True)
    if options.json:
        rows = [{**asdict(measure), "ratio": measure.ratio, "met": measure.met} for measure in found]
        options.json.write_text(json.dumps(rows, indent=1))
    return 1 if any(measure.met is False for measure in found) else 0


if __name__ == "__main__":
    sys.exit(main())
