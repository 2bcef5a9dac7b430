"""What the import linter cannot see: the arrows between tables and migrations, and cores without Django."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.db.migrations.loader import MigrationLoader

HOUSE = Path(__file__).resolve().parents[1]
HEIGHT = {"inventory": 0, "drives": 1, "api": 2}
CORES = [
    "inventory.standards",
    "inventory.identification",
    "inventory.descriptions",
    "inventory.interchange",
    "inventory.stocking",
    "drives.chain",
    "drives.reliability",
    "drives.place",
]


def relations() -> Iterator[tuple[str, str, str]]:
    for model in apps.get_models(include_auto_created=True):
        for field in model._meta.get_fields():
            if field.is_relation and not field.auto_created and field.related_model:
                target = field.related_model._meta.app_label  # type: ignore[union-attr]
                yield model._meta.app_label, target, f"{model._meta.label}.{field.name}"


def goes_up(source: str, target: str) -> bool:
    return source in HEIGHT and target in HEIGHT and HEIGHT[target] > HEIGHT[source]


def test_no_foreign_key_goes_against_the_arrows() -> None:
    found = list(relations())
    assert found
    assert [name for source, target, name in found if goes_up(source, target)] == []


def test_no_migration_depends_against_the_arrows() -> None:
    loader = MigrationLoader(None)
    wrong = [
        (key, dependency)
        for key, migration in loader.disk_migrations.items()
        for dependency in [*migration.dependencies, *migration.run_before]
        if goes_up(key[0], dependency[0])
    ]
    assert wrong == []


def modules_of(core: str) -> list[str]:
    place = HOUSE / core.replace(".", "/")
    if not place.is_dir():
        return [core]
    files = sorted(place.rglob("*.py"))
    return [
        ".".join(file.relative_to(HOUSE).with_suffix("").parts).removesuffix(".__init__") for file in files
    ]


@pytest.mark.parametrize("core", CORES)
def test_a_core_runs_in_a_python_without_django(core: str) -> None:
    block = (
        "import sys\nfor name in ('django', 'rest_framework', 'django_filters'): sys.modules[name] = None\n"
    )
    imports = "\n".join(f"import {module}" for module in modules_of(core))
    run = subprocess.run(
        [sys.executable, "-c", block + imports], cwd=HOUSE, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr


def source_files() -> list[Path]:
    rooms = (HOUSE / room for room in HEIGHT)
    return [file for room in rooms for file in room.rglob("*.py") if "migrations" not in file.parts]


def test_no_module_has_more_than_500_lines() -> None:
    long = [str(file) for file in source_files() if len(file.read_text().splitlines()) > 500]
    assert long == []


def module_name(file: Path) -> str:
    return ".".join(file.relative_to(HOUSE).with_suffix("").parts).removesuffix(".__init__")


def imports_of(file: Path, known: set[str]) -> set[str]:
    """Modules that a file imports anywhere in it: at its top, under `TYPE_CHECKING`, or in a function."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            submodules = {f"{node.module}.{alias.name}" for alias in node.names} & known
            named = {alias.name for alias in node.names} - {name.rpartition(".")[2] for name in submodules}
            found |= submodules | ({node.module} if named else set())
    return (found & known) - {module_name(file)}


def reachable(graph: dict[str, set[str]], start: str) -> set[str]:
    seen: set[str] = set()
    waiting = [start]
    while waiting:
        for name in graph[waiting.pop()] - seen:
            seen.add(name)
            waiting.append(name)
    return seen


def circles(graph: dict[str, set[str]]) -> set[frozenset[str]]:
    """Groups of modules each of which is reached from every other."""
    reached = {name: reachable(graph, name) for name in graph}
    groups = {frozenset(other for other in reached[name] if name in reached[other]) for name in graph}
    return groups - {frozenset()}


def test_a_circle_of_files_is_found() -> None:
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"a"}}) == {frozenset({"b", "c"})}


def test_no_circle_of_files() -> None:
    files = {module_name(file): file for file in source_files()}
    assert len(files) > 100
    found = circles({name: imports_of(file, set(files)) for name, file in files.items()})
    assert found == set()


def test_every_room_of_every_app_stands_in_a_contract() -> None:
    contracts = tomllib.loads((HOUSE / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    whole = {app for one in contracts if one.get("exhaustive") for app in one["containers"]}
    assert whole == set(HEIGHT)


def test_developers_find_every_room_and_every_path_that_is_named() -> None:
    text = (HOUSE / "DEVELOPERS.md").read_text() + (HOUSE / "README.md").read_text()
    parents = [*(HOUSE / app for app in HEIGHT), HOUSE / "api" / "screens", HOUSE / "tests"]
    rooms = {room.name for parent in parents for room in parent.iterdir() if (room / "__init__.py").is_file()}
    mirrored = {*HEIGHT, "migrations"}
    assert [room for room in sorted(rooms - mirrored) if f"`{room}/`" not in text] == []
    ours = r"(?:api(?!/v1)|drives|inventory|tests|fixtures|\.ci|\.deploy)/[\w./]+"
    paths = {*re.findall(rf"[`(]({ours})[`)]", text), *re.findall(r"\]\(([\w./]+)\)", text)}
    assert len(paths) > 50
    assert [path for path in sorted(paths) if not (HOUSE / path).exists()] == []
