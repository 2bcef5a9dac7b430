"""A public function of a core is reached from an endpoint, a page or a command, or it goes.

Names are followed through the source: from every definition outside the cores, through imports, to the definitions that these
name. A name that is only written in a string (a table of functions by name) counts as well.
"""

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

HOUSE = Path(__file__).resolve().parents[1]
CORES = (
    "inventory.standards",
    "inventory.identification",
    "inventory.descriptions",
    "inventory.interchange",
    "inventory.stocking",
    "drives.chain",
    "drives.reliability",
    "drives.place",
)
Name = tuple[str, str]


@dataclass
class Module:
    tree: ast.Module
    imports: dict[str, tuple[str, str]] = field(default_factory=dict)
    definitions: dict[str, ast.stmt] = field(default_factory=dict)


def read_modules() -> dict[str, Module]:
    files = (file for app in ("inventory", "drives", "api") for file in (HOUSE / app).rglob("*.py"))
    return {
        ".".join(file.relative_to(HOUSE).with_suffix("").parts).removesuffix(".__init__"): module_of(
            ast.parse(file.read_text(encoding="utf-8"))
        )
        for file in files
        if "migrations" not in file.parts
    }


def module_of(tree: ast.Module) -> Module:
    module = Module(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            module.imports |= {alias.asname or alias.name: (node.module, alias.name) for alias in node.names}
    for statement in module.tree.body:
        module.definitions |= dict.fromkeys(names_defined(statement), statement)
    return module


def names_defined(statement: ast.stmt) -> Iterator[str]:
    if isinstance(statement, ast.FunctionDef | ast.ClassDef):
        yield statement.name
    elif isinstance(statement, ast.Assign | ast.AnnAssign):
        targets = statement.targets if isinstance(statement, ast.Assign) else [statement.target]
        for target in targets:
            yield from (node.id for node in ast.walk(target) if isinstance(node, ast.Name))


def names_used(tree: ast.AST) -> Iterator[tuple[str, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id, ""
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            yield node.value.id, node.attr
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.isidentifier():
            yield node.value, ""


def definition_of(modules: dict[str, Module], module: str, name: str, attribute: str) -> Name | None:
    """Where a name used in `module` is defined, through imports of names and of modules."""
    if name in modules[module].definitions:
        return module, name
    if name not in modules[module].imports:
        return None
    source, original = modules[module].imports[name]
    if f"{source}.{original}" in modules:
        return definition_of(modules, f"{source}.{original}", attribute, "") if attribute else None
    return definition_of(modules, source, original, attribute) if source in modules else None


def is_core(module: str) -> bool:
    return module.startswith(tuple(f"{core}." for core in CORES))


def reached_definitions(modules: dict[str, Module]) -> set[Name]:
    found: set[Name] = set()
    todo: list[tuple[str, ast.AST]] = [(name, one.tree) for name, one in modules.items() if not is_core(name)]
    while todo:
        module, tree = todo.pop()
        for name, attribute in names_used(tree):
            place = definition_of(modules, module, name, attribute)
            if place is not None and place not in found:
                found.add(place)
                todo.append((place[0], modules[place[0]].definitions[place[1]]))
    return found


def public_definitions(modules: dict[str, Module]) -> set[Name]:
    return {
        (name, statement.name)
        for name, module in modules.items()
        if is_core(name)
        for statement in module.tree.body
        if isinstance(statement, ast.FunctionDef | ast.ClassDef) and not statement.name.startswith("_")
    }


@pytest.fixture(scope="module")
def modules() -> dict[str, Module]:
    return read_modules()


def test_every_public_definition_of_the_cores_is_reached(modules: dict[str, Module]) -> None:
    public = public_definitions(modules)

    assert len(public) > 200
    assert public - reached_definitions(modules) == set()


def test_a_definition_is_reached_through_another_one_and_not_by_standing_beside_it() -> None:
    core = "inventory.stocking.made_up"
    made_up = "def used(): return helper()\ndef helper(): return 1\ndef nobody_calls(): return used()\n"
    caller = f"from {core} import used\nused()\n"
    modules = {core: module_of(ast.parse(made_up)), "api.caller": module_of(ast.parse(caller))}

    assert public_definitions(modules) - reached_definitions(modules) == {(core, "nobody_calls")}
