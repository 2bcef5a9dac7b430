"""Plausible bugs put into the cores, one at a time, and whether their tests notice.

    python -m tests.proof.mutations --count 100 --seed 1

copies the checkout into a temporary folder, changes one place of one core there, and runs the tests of that core. A bug that
no test notices is printed with its line; the last line gives the score. `--only drives/place` keeps to one folder.

A bug is one of: a comparison turned or moved by its equal, a sum for a difference or a product for a quotient, `and` for
`or`, a condition negated, the larger for the smaller, a number that is off by a tenth or by one. What decides nothing is left alone: texts,
names of members, type hints. Some bugs change nothing that could be noticed; they count against the score.
"""

import argparse
import ast
import copy
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TypeGuard

HOUSE = Path(__file__).resolve().parents[2]
CORES = {
    "inventory/standards": ["tests/inventory/standards", "tests/inventory/interchange"],
    "inventory/interchange": ["tests/inventory/interchange", "tests/drives/place"],
    "inventory/stocking": ["tests/inventory/stocking"],
    "drives/chain": ["tests/drives/chain", "tests/drives/place"],
    "drives/place": ["tests/drives/place"],
    "drives/reliability": ["tests/drives/reliability"],
}
SECONDS = 300
COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
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


@dataclass(frozen=True)
class Bug:
    file: str
    line: int
    before: str
    after: str
    source: str
    """The whole file with the bug in it."""


def places_of(file: Path) -> list[int]:
    """The numbers of the places of one file that can be changed."""
    nodes = _deciding(ast.parse(file.read_text(encoding="utf-8")))
    return [number for number, node in enumerate(nodes) if _change(copy.deepcopy(node))]


def bug_at(file: Path, place: int) -> Bug:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    node = next(islice(_deciding(tree), place, None))
    before = ast.unparse(node)
    _change(node)
    return Bug(
        file=str(file.relative_to(HOUSE)),
        line=node.lineno,
        before=before,
        after=ast.unparse(node),
        source=ast.unparse(tree),
    )


def _deciding(tree: ast.Module) -> Iterator[ast.expr]:
    """Comparisons, sums, conditions, calls of `max` and the like, and numbers, inside functions and named constants."""
    for statement in tree.body:
        if isinstance(statement, ast.FunctionDef | ast.ClassDef | ast.Assign | ast.AnnAssign):
            whole = list(ast.walk(_without_hints(statement)))
            digits = {id(number) for call in whole if _is_rounding(call) for number in call.args[1:]}
            for node in (node for node in whole if id(node) not in digits):
                if isinstance(
                    node, ast.Compare | ast.BinOp | ast.BoolOp | ast.IfExp | ast.Call
                ) or _is_number(node):
                    assert isinstance(node, ast.expr)
                    yield node


def _without_hints(statement: ast.stmt) -> ast.stmt:
    for node in ast.walk(statement):
        if isinstance(node, ast.FunctionDef):
            node.returns = None
            for argument in (*node.args.args, *node.args.kwonlyargs):
                argument.annotation = None
    return statement


def _is_rounding(node: ast.AST) -> TypeGuard[ast.Call]:
    """How many digits are shown decides nothing."""
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "round"


def _is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float) and node.value not in (0, 0.0)


def _change(node: ast.expr) -> bool:
    """Change the node in place; False where it has nothing to change."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARED:
        node.ops[0] = COMPARED[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp) and type(node.op) in CALCULATED:
        node.op = CALCULATED[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.IfExp):
        node.body, node.orelse = node.orelse, node.body
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in LARGER:
        node.func.id = LARGER[node.func.id]
    elif isinstance(node, ast.Constant):
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.1  # type: ignore[operator]
    else:
        return False
    return True


def chosen_bugs(count: int, seed: int, only: str) -> list[tuple[Bug, list[str]]]:
    """So many, spread over the cores by their number of places; the same for the same seed."""
    found = [
        (file, place, tests)
        for core, tests in CORES.items()
        for file in sorted((HOUSE / core).glob("*.py"))
        if str(file.relative_to(HOUSE)).startswith(only)
        for place in places_of(file)
    ]
    random.Random(seed).shuffle(found)
    return [(bug_at(file, place), tests) for file, place, tests in found[:count]]


def is_noticed(bug: Bug, tests: list[str], copied: Path) -> bool:
    target = copied / bug.file
    whole = target.read_text(encoding="utf-8")
    target.write_text(bug.source, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    try:
        ran = subprocess.run(command, cwd=copied, capture_output=True, timeout=SECONDS, check=False)
        return ran.returncode != 0
    except subprocess.TimeoutExpired:
        return True
    finally:
        target.write_text(whole, encoding="utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    wanted = parser.parse_args()
    chosen = chosen_bugs(wanted.count, wanted.seed, wanted.only)
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder) / "house"
        shutil.copytree(
            HOUSE, copied, ignore=shutil.ignore_patterns(".git", ".venv", ".mypy_cache", "*.sqlite3")
        )
        missed = 0
        for number, (bug, tests) in enumerate(chosen, start=1):
            if not is_noticed(bug, tests, copied):
                missed += 1
                print(
                    f"{number}: {bug.file}:{bug.line}: not noticed: {bug.before}  ->  {bug.after}", flush=True
                )
    noticed = len(chosen) - missed
    print(f"{noticed} of {len(chosen)} noticed ({noticed / max(len(chosen), 1):.0%}), seed {wanted.seed}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
