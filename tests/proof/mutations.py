"""Plausible bugs put into the cores, one at a time, and whether their tests notice.

    python -m tests.proof.mutations --count 100 --seed 1

copies the checkout into a temporary folder, changes one place of one core there, and runs the tests of that core. Each bug is
printed with the test that notices it, or `NOT NOTICED`. The last line gives the score; below `--goal` the command fails. `--only drives/place`
keeps to one folder, `--start 41` goes on after a stop.

The bugs are spread over the cores and over the kinds: a limit moved by its equal (`boundary`), a sum for a difference or a product
for a quotient (`formula`), a condition turned, dropped or joined by the other word (`condition`), the larger for the smaller
(`larger`), a number off by a tenth or by one (`number`), a minus forgotten (`sign`), a unit not converted (`unit`), the look-alike of
a name (`side`: required for offered), the figure of the next row (`row`). What decides nothing is left alone: texts, type
hints, messages of errors, decorators, and how finely a number is worked out. What was
looked at and changes no answer stands in `harmless_bugs.csv` with its reason; every other bug counts.
"""

import argparse
import ast
import csv
import io
import math
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial
from itertools import islice, pairwise
from pathlib import Path
from typing import TypeGuard

HOUSE = Path(__file__).resolve().parents[2]
HARMLESS = Path(__file__).with_name("harmless_bugs.csv")
CORES = {
    "inventory/standards": ["tests/inventory/standards", "tests/inventory/interchange"],
    "inventory/interchange": ["tests/inventory/interchange", "tests/drives/place"],
    "inventory/stocking": ["tests/inventory/stocking"],
    "drives/chain": ["tests/drives/chain", "tests/drives/place"],
    "drives/place": ["tests/drives/place"],
    "drives/reliability": ["tests/drives/reliability"],
    "drives/demand": ["tests/drives/demand"],
}
KINDS = ("boundary", "formula", "condition", "larger", "number", "sign", "unit", "side", "row")
SECONDS = 300
GOAL = 0.97
SMALLEST_NUMBER = 1e-5
"""Smaller ones say when an iteration is done."""
STARTS = ("_start", "_guess")
"""Functions that say where an iteration starts: it ends at the same place."""
HOW_FINE = (
    *("NODES", "PANELS", "STEPS", "LEVELS", "TERMS", "POINTS", "AT_ONCE"),
    *("CLIMB", "PACKED", "LOST_", "GAUSS", "SLACK", "TAIL", "AS_GOOD"),
)
"""Parts of the names of constants that say how finely a sum is worked out: a finer one is the same sum."""
LIMITS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
TURNED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
CALCULATED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
LARGER = {"max": "min", "min": "max", "any": "all", "all": "any", "ceil": "floor", "floor": "ceil"}
UNITS = (24, 60, 100, 365, 1000)
PAIRS = (
    *(
        ("required", "offered"),
        ("driver", "driven"),
        ("small", "large"),
        ("shaft", "hub"),
        ("width", "depth"),
    ),
    *(("least", "most"), ("low", "high"), ("lower", "upper"), ("earlier", "later"), ("before", "after")),
    *(("first", "last"), ("begin", "end"), ("z1", "z2"), ("need", "stock"), ("failures", "hours")),
)
LOOK_ALIKES = dict(PAIRS) | {other: one for one, other in PAIRS}
Change = Callable[[], None]


@dataclass(frozen=True)
class Place:
    core: str
    kind: str
    file: Path
    number: int


@dataclass(frozen=True)
class Bug:
    file: str
    line: int
    code: str
    before: str
    after: str
    source: str
    """The whole file with the bug in it."""


def chosen_places(count: int, seed: int, only: str = "") -> list[Place]:
    """So many; the same for the same seed.

    Cores, and in each core the kinds, come in proportion to the root of their places: the small ones are not drowned, the
    large ones not forgotten.
    """
    chance = random.Random(seed)
    ranked: list[tuple[float, Place]] = []
    for core in CORES:
        files = sorted([*(HOUSE / core).glob("*.py"), *(HOUSE / core / "tables").glob("*.csv")])
        places = [place for file in files for place in places_of(core, file)]
        chance.shuffle(places)
        kinds = [[place for place in places if place.kind == kind] for kind in KINDS]
        roots = sum(math.sqrt(len(kind)) for kind in kinds)
        for kind in kinds:
            share = math.sqrt(len(places)) * math.sqrt(len(kind)) / roots
            ranked += [((turn + chance.random()) / share, place) for turn, place in enumerate(kind)]
    ranked.sort(key=lambda one: one[0])
    return [place for _, place in ranked if str(place.file.relative_to(HOUSE)).startswith(only)][:count]


@cache
def places_of(core: str, file: Path) -> list[Place]:
    if file.suffix == ".csv":
        return [Place(core, "row", file, number) for number, _ in enumerate(_cells(_table(file)))]
    kinds = (kind for kind, _, _ in _changes(ast.parse(file.read_text(encoding="utf-8"))))
    return [Place(core, kind, file, number) for number, kind in enumerate(kinds)]


def bug_at(place: Place) -> Bug:
    name = str(place.file.relative_to(HOUSE))
    if place.file.suffix == ".csv":
        table = _table(place.file)
        row, column = next(islice(_cells(table), place.number, None))
        before, after = table[row][column], table[row + 1][column]
        table[row][column] = after
        text = io.StringIO()
        csv.writer(text, lineterminator="\n").writerows(table)
        shown = f"{table[row][0]}, {table[0][column]}"
        return Bug(name, row + 1, shown, f"{shown}: {before}", f"{shown}: {after}", text.getvalue())
    whole = place.file.read_text(encoding="utf-8")
    tree = ast.parse(whole)
    _, node, change = next(islice(_changes(tree), place.number, None))
    before = ast.unparse(node)
    change()
    code = whole.splitlines()[node.lineno - 1].strip()
    return Bug(name, node.lineno, code, before, ast.unparse(node), ast.unparse(tree))


def harmless_bugs() -> dict[tuple[str, str, str, str], str]:
    """Bugs that were looked at and change no answer, each with its reason."""
    with HARMLESS.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {(row["file"], row["code"], row["before"], row["after"]): row["reason"] for row in rows}


def _table(file: Path) -> list[list[str]]:
    with file.open(newline="", encoding="utf-8") as opened:
        return list(csv.reader(opened))


def _cells(table: list[list[str]]) -> Iterator[tuple[int, int]]:
    """Row and column of every figure that has another one below it."""
    for row, (here, below) in enumerate(pairwise(table[1:]), start=1):
        for column in range(1, len(here)):
            if _is_figure(here[column]) and _is_figure(below[column]) and here[column] != below[column]:
                yield row, column


def _is_figure(cell: str) -> bool:
    return cell.replace(".", "", 1).isdigit()


def _changes(tree: ast.Module) -> Iterator[tuple[str, ast.expr, Change]]:
    """Every change that can be made in a file: its kind, the node that changes, and what changes it."""
    fine = {name for statement in tree.body for name in _fineness(statement)}
    for statement in tree.body:
        is_kept = isinstance(statement, ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign)
        if not is_kept or any(True for _ in _fineness(statement)):
            continue
        names = {name for node in ast.walk(statement) for name in _names_of(node)}
        for node in _deciding(statement):
            for kind, change in _changes_of(node, names):
                if kind != "boundary" or not fine.intersection(_names_within(node)):
                    yield kind, node, change


def _fineness(statement: ast.stmt) -> Iterator[str]:
    """The named constants that it sets and that only say how finely something is worked out."""
    if isinstance(statement, ast.Assign):
        value = statement.value
        is_tiny = isinstance(value, ast.Constant) and isinstance(value.value, float) and not _decides(value)
        for target in statement.targets:
            set_here = (name for name in _names_within(target) if name.isupper())
            yield from (name for name in set_here if is_tiny or any(part in name for part in HOW_FINE))


def _names_within(node: ast.AST) -> Iterator[str]:
    return (one.id for one in ast.walk(node) if isinstance(one, ast.Name))


def _names_of(node: ast.AST) -> Iterator[str]:
    yield from (
        getattr(node, key) for key in ("id", "attr", "arg") if isinstance(getattr(node, key, None), str)
    )


def _deciding(node: ast.AST) -> Iterator[ast.expr]:
    """The expressions in it that decide something."""
    if isinstance(node, ast.expr):
        yield node
    for name, value in ast.iter_fields(node):
        parts = value if isinstance(value, list) else [value]
        if name in ("annotation", "returns", "decorator_list"):
            continue
        if isinstance(node, ast.Call) and name == "args" and _called(node) == "round":
            parts = parts[:1]
        for part in parts:
            if isinstance(part, ast.AST) and not _is_left_alone(part):
                yield from _deciding(part)


def _is_left_alone(node: ast.AST) -> bool:
    if isinstance(node, ast.FunctionDef):
        return node.name.startswith(STARTS)
    return isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr)


def _called(node: ast.Call) -> str:
    return next(_names_of(node.func), "")


def _changes_of(node: ast.expr, names: set[str]) -> Iterator[tuple[str, Change]]:
    match node:
        case ast.Compare():
            kind, others = ("boundary", LIMITS) if type(node.ops[0]) in LIMITS else ("condition", TURNED)
            yield kind, partial(node.ops.__setitem__, 0, others[type(node.ops[0])]())
        case ast.BinOp() if type(node.op) in CALCULATED:
            yield "formula", partial(setattr, node, "op", CALCULATED[type(node.op)]())
            if isinstance(node.op, ast.Mult | ast.Div) and _is_unit(node.right):
                yield "unit", partial(setattr, node, "right", ast.Constant(1))
        case ast.BoolOp():
            other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield "condition", partial(setattr, node, "op", other)
            for number in range(len(node.values)):
                yield "condition", partial(node.values.pop, number)  # type: ignore[misc]
        case ast.UnaryOp(op=ast.Not()):
            yield "condition", partial(setattr, node, "operand", ast.UnaryOp(ast.Not(), node.operand))
        case ast.UnaryOp(op=ast.USub()):
            yield "sign", partial(setattr, node, "op", ast.UAdd())
        case ast.IfExp():
            yield "condition", partial(_swap, node, "body", "orelse")
        case ast.Call() if isinstance(node.func, ast.Name) and node.func.id in LARGER:
            yield "larger", partial(setattr, node.func, "id", LARGER[node.func.id])
        case ast.Call() if isinstance(node.func, ast.Attribute) and node.func.attr in LARGER:
            yield "larger", partial(setattr, node.func, "attr", LARGER[node.func.attr])
        case ast.Constant() if _decides(node):
            near = node.value + 1 if isinstance(node.value, int) else node.value * 1.1
            yield "number", partial(setattr, node, "value", near)
        case ast.Name(ctx=ast.Load()) if other_name := _look_alike(node.id, names):
            yield "side", partial(setattr, node, "id", other_name)
        case ast.Attribute(ctx=ast.Load()) if other_name := _look_alike(node.attr, names):
            yield "side", partial(setattr, node, "attr", other_name)
        case ast.Dict():
            for number, (here, below) in enumerate(pairwise(node.values)):
                if _decides(here) and _decides(below) and ast.dump(here) != ast.dump(below):
                    yield "row", partial(node.values.__setitem__, number, below)


def _decides(node: ast.expr) -> TypeGuard[ast.Constant]:
    """A number that is no tolerance of an iteration; 0 is left alone, it stands for nothing more often than for a figure."""
    if not isinstance(node, ast.Constant) or type(node.value) not in (int, float):
        return False
    return abs(node.value) > SMALLEST_NUMBER  # type: ignore[arg-type]


def _swap(node: ast.expr, one: str, other: str) -> None:
    before, after = getattr(node, one), getattr(node, other)
    setattr(node, one, after)
    setattr(node, other, before)


def _is_unit(node: ast.expr) -> bool:
    return (isinstance(node, ast.Constant) and node.value in UNITS) or "_PER_" in next(_names_of(node), "")


def _look_alike(name: str, names: set[str]) -> str | None:
    """The name in the same function or class that has the other word of a pair in one place."""
    words = name.split("_")
    others = (
        "_".join([*words[:place], LOOK_ALIKES[word], *words[place + 1 :]])
        for place, word in enumerate(words)
        if word in LOOK_ALIKES
    )
    return next((other for other in others if other in names), None)


def noticed_by(place: Place, bug: Bug, copied: Path) -> str | None:
    """The test that fails, or how else the tests end; None where they pass."""
    target = copied / bug.file
    whole = target.read_bytes()
    target.write_text(bug.source, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *_tests(place, copied)]
    try:
        ran = subprocess.run(
            command, cwd=copied, capture_output=True, text=True, timeout=SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return f"more than {SECONDS} seconds"
    finally:
        target.write_bytes(whole)
    if not ran.returncode:
        return None
    failed = (line for line in ran.stdout.splitlines() if line.startswith(("FAILED", "ERROR")))
    return next(failed, "an error while loading")


def _tests(place: Place, copied: Path) -> list[str]:
    """The tests of the module come first; they notice most."""
    folders = CORES[place.core]
    own = [f"{folder}/test_{place.file.stem}.py" for folder in folders]
    return [*(name for name in own if (copied / name).exists()), *folders]


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    parser.add_argument("--start", type=int, default=1)
    parser.add_argument("--goal", type=float, default=GOAL)
    wanted = parser.parse_args()
    chosen = list(enumerate(chosen_places(wanted.count, wanted.seed, wanted.only), start=1))[
        wanted.start - 1 :
    ]
    harmless, tried, missed = harmless_bugs(), 0, 0
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "house"
        shutil.copytree(
            HOUSE, copied, ignore=shutil.ignore_patterns(".git", ".venv", ".mypy_cache", "*.sqlite3")
        )
        for number, place in chosen:
            bug = bug_at(place)
            where = f"{number}: {bug.file}:{bug.line} ({place.kind}): {bug.before}  ->  {bug.after}"
            if reason := harmless.get((bug.file, bug.code, bug.before, bug.after)):
                print(f"{where}: harmless, {reason}", flush=True)
                continue
            noticed = noticed_by(place, bug, copied)
            tried, missed = tried + 1, missed + (noticed is None)
            print(f"{where}: {noticed or 'NOT NOTICED'}", flush=True)
    score = 1 - missed / max(tried, 1)
    print(f"{tried - missed} of {tried} noticed ({score:.0%}), seed {wanted.seed}")
    return 0 if score >= wanted.goal else 1


if __name__ == "__main__":
    sys.exit(main())
