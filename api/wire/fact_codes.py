"""The codes of facts in the OpenAPI document: one list for every member that carries a code with values."""

from collections.abc import Iterator
from typing import Any

from django.utils.translation import override

from api.wording.figures import Sentence
from api.wording.sentences import SENTENCES

COMPONENT = "FactCode"
INTRODUCTION = (
    "What was found. A system reads the code and its values; the sentence beside it is for people.\n"
)


class Placeholder(int):
    """Stands for a value: a sentence shows its name, as `{roller_mm}`."""

    name: str

    def __format__(self, spec: str) -> str:
        return f"{{{self.name}}}"


def placeholder(name: str) -> Placeholder:
    value = Placeholder(2)
    value.name = name
    return value


def with_placeholders(template: Sentence) -> str:
    """A sentence with its places by name; where it has several forms, one of them."""
    if not callable(template):
        return str(template)
    values: dict[str, Placeholder] = {}
    while True:
        try:
            return template(values)
        except KeyError as missing:
            (name,) = missing.args
            if not isinstance(name, str) or name in values:
                raise
            values[name] = placeholder(name)


def document_codes(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """A hook of the schema generator: every `code` beside `values` is one of the list."""
    for schema in objects(result):
        members = schema.get("properties", {})
        if {"code", "values"} <= members.keys() and members["code"].get("type") == "string":
            members["code"] = {"$ref": f"#/components/schemas/{COMPONENT}"}
    codes = sorted(SENTENCES)
    with override("en"):
        lines = [f"- `{code}`: {with_placeholders(SENTENCES[code])}" for code in codes]
    result["components"]["schemas"][COMPONENT] = {
        "type": "string",
        "enum": codes,
        "description": "\n".join([INTRODUCTION, *lines]),
    }
    return result


def objects(node: Any) -> Iterator[dict[str, Any]]:
    """Every object of a JSON document."""
    if isinstance(node, dict):
        yield node
    children = node.values() if isinstance(node, dict) else node if isinstance(node, list) else ()
    for child in children:
        yield from objects(child)
