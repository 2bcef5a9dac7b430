"""Plausible bugs put into the cores, one at a time, and whether their tests notice.

    python -m tests.proof.mutations --count 100 --seed 1

copies the checkout into a temporary folder, changes one place of one core there, and runs the tests of that core. A bug that
no test notices is printed with its line. The last line gives the score; below `--goal` the command fails. `--only drives/place`
keeps to one folder, `--start 41` goes on after a stop.

The cores take turns, and in each core the kinds of bug: a limit moved by its equal (`boundary`), a sum for a difference or a product
for a quotient (`formula`), a condition turned, dropped or joined by the other word (`condition`), the larger for the smaller
(`larger`), a number off by a tenth or by one (`number`), a minus forgotten (`sign`), a unit not converted (`unit`), the look-alike of
a name (`side`: required for offered), the figure of the next row (`row`). What decides nothing is left alone: texts, type
hints, messages of errors, decorators, numerical tolerances. Some bugs change nothing that could be noticed; they count
against the score.
"""

import argparse
import ast
import csv
import io
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import islice, pairwise, zip_longest
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[2]
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
    before: str
    after: str
    source: str
    """The whole file with the bug in it."""


def chosen_places(count: int, seed: int, only: str = "") -> list[Place]:
    """So many, the cores in turn and in each core the kinds; the same for the same seed."""
    chance = random.Random(seed)
    cores: list[list[Place]] = []
    for core in CORES:
        files = sorted([*(HOUSE / core).glob("*.py"), *(HOUSE / core / "tables").glob("*.csv")])
        places = [place for file in files for place in places_of(core, file)]
        found = [place for place in places if str(place.file.relative_to(HOUSE)).startswith(only)]
        chance.shuffle(found)
        kinds = [[place for place in found if place.kind == kind] for kind in KINDS]
        chance.shuffle(kinds)
        cores.append(_in_turn(kinds))
    return _in_turn(cores)[:count]


def _in_turn(lists: Iterable[list[Place]]) -> list[Place]:
    return [place for turn in zip_longest(*lists) for place in turn if place is not None]


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
        return Bug(name, row + 1, f"{shown}: {before}", f"{shown}: {after}", text.getvalue())
    tree = ast.parse(place.file.read_text(encoding="utf-8"))
    _, node, change = next(islice(_changes(tree), place.number, None))
    before = ast.unparse(node)
    change()
    return Bug(name, node.lineno, before, ast.unparse(node), ast.unparse(tree))


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
    names = {name for node in ast.walk(tree) for name in _names_of(node)}
    for statement in tree.body:
        if isinstance(statement, ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign):
            for node in _deciding(statement):
                for kind, change in _changes_of(node, names):
                    yield kind, node, change


def _names_of(node: ast.AST) -> Iterator[str]:
    yield from (
        getattr(node, key) for key in ("id", "attr", "arg") if isinstance(getattr(node, key, None), str)
    )


def _deciding(node: ast.AST) -> Iterator[ast.expr]:
    """The expressions in it that decide something."""
    if isinstance(node, ast.expr):
        yield node
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list"):
            continue
        parts = value if isinstance(value, list) else [value]
        if isinstance(node, ast.Call) and name == "args" and _called(node) == "round":
            parts = parts[:1]
        for part in parts:
            if isinstance(part, ast.AST) and not isinstance(part, ast.Raise | ast.Assert | ast.JoinedStr):
                yield from _deciding(part)


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
        case ast.Constant(value=int() | float() as value) if abs(value) > SMALLEST_NUMBER:
            if not isinstance(value, bool):
                yield (
                    "number",
                    partial(setattr, node, "value", value + 1 if isinstance(value, int) else value * 1.1),
                )
        case ast.Name(ctx=ast.Load()) if other_name := _look_alike(node.id, names):
            yield "side", partial(setattr, node, "id", other_name)
        case ast.Attribute(ctx=ast.Load()) if other_name := _look_alike(node.attr, names):
            yield "side", partial(setattr, node, "attr", other_name)
        case ast.Dict():
            for number, (one, other_value) in enumerate(pairwise(node.values)):
                if isinstance(one, ast.Constant) and isinstance(other_value, ast.Constant):
                    if one.value != other_value.value:
                        yield "row", partial(node.values.__setitem__, number, other_value)


def _swap(node: ast.expr, one: str, other: str) -> None:
    before, after = getattr(node, one), getattr(node, other)
    setattr(node, one, after)
    setattr(node, other, before)


def _is_unit(node: ast.expr) -> bool:
    return (isinstance(node, ast.Constant) and node.value in UNITS) or "_PER_" in next(_names_of(node), "")


def _look_alike(name: str, names: set[str]) -> str | None:
    words = name.split("_")
    found = (
        "_".join([*words[:k], LOOK_ALIKES.get(word, ""), *words[k + 1 :]]) for k, word in enumerate(words)
    )
    return next((other for other in found if other in names), None)


def is_noticed(place: Place, bug: Bug, copied: Path) -> bool:
    target = copied / bug.file
    whole = target.read_bytes()
    target.write_text(bug.source, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *_tests(place, copied)]
    try:
        ran = subprocess.run(command, cwd=copied, capture_output=True, timeout=SECONDS, check=False)
        return ran.returncode != 0
    except subprocess.TimeoutExpired:
        return True
    finally:
        target.write_bytes(whole)


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
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "house"
        shutil.copytree(
            HOUSE, copied, ignore=shutil.ignore_patterns(".git", ".venv", ".mypy_cache", "*.sqlite3")
        )
        for number, place in chosen:
            bug = bug_at(place)
            noticed = is_noticed(place, bug, copied)
            missed += not noticed
            state = "noticed" if noticed else "NOT NOTICED"
            print(
                f"{number}: {state}: {bug.file}:{bug.line} ({place.kind}): {bug.before}  ->  {bug.after}",
                flush=True,
            )
    score = 1 - missed / max(len(chosen), 1)
    print(f"{len(chosen) - missed} of {len(chosen)} noticed ({score:.0%}), seed {wanted.seed}")
    return 0 if score >= wanted.goal else 1


if __name__ == "__main__":
    sys.exit(main())
