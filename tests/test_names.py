"""One thing per word: two classes of the product never share a name, and few words need a glossary."""

import ast
from collections import defaultdict
from pathlib import Path

HOUSE = Path(__file__).resolve().parents[1]
NAMES_OF_THE_FRAMEWORK = {"Meta", "Command"}


def classes_by_name() -> dict[str, list[str]]:
    found = defaultdict(list)
    for file in sorted(
        file for app in ("inventory", "drives", "api") for file in (HOUSE / app).rglob("*.py")
    ):
        if "migrations" in file.parts:
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and node.name not in NAMES_OF_THE_FRAMEWORK:
                found[node.name].append(str(file.relative_to(HOUSE)))
    return found


def test_two_classes_never_share_a_name() -> None:
    found = classes_by_name()

    assert len(found) > 500
    assert {name: files for name, files in found.items() if len(files) > 1} == {}


def test_the_glossary_has_at_most_60_terms_in_their_order():
    glossary = (HOUSE / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Glossary")[1].split("\n## ")[0]
    terms = [
        line.split(" | ")[0].removeprefix("| ") for line in glossary.splitlines() if line.startswith("| ")
    ]

    assert 40 < len(terms) - 1 <= 60
    assert terms[1:] == sorted(terms[1:])
