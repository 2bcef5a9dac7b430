"""The OpenAPI document as a reader wants it: by resource, each operation with what it takes, answers and refuses."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from api.edge.auth import API_ROOT
from api.edge.openapi.examples import EXAMPLES
from api.edge.openapi.names import SCHEMAS, Schema, every_schema
from api.edge.openapi.operations import operations
from api.edge.schema import document

BOUNDS = ("__gte", "__lte")
LONG_VOCABULARIES = frozenset({"FactCode"})
"""Too long to be shown with what uses them."""
LONGEST_EXAMPLE = 6_000


@dataclass(frozen=True)
class Member:
    name: str
    kind: str
    link: str
    """The component that the kind is, where it is one."""
    is_required: bool
    text: str


@dataclass(frozen=True)
class Shape:
    """A component: its members, or the words that it is one of."""

    name: str
    text: str
    members: tuple[Member, ...]
    words: tuple[str, ...]


@dataclass(frozen=True)
class Reply:
    status: str
    text: str
    shape: Member | None
    headers: tuple[str, ...]
    example: str


@dataclass(frozen=True)
class DocumentedOperation:
    id: str
    method: str
    path: str
    summary: str
    text: str
    parameters: tuple[Member, ...]
    body: Member | None
    body_example: str
    replies: tuple[Reply, ...]


@dataclass(frozen=True)
class Group:
    name: str
    operations: tuple[DocumentedOperation, ...]
    shapes: tuple[Shape, ...]


def group_of(path: str) -> str:
    return path.removeprefix(API_ROOT).split("/")[0]


@cache
def names() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each resource with the summaries of its operations."""
    found: dict[str, list[str]] = {}
    for path, _, operation in operations(document()):
        found.setdefault(group_of(path), []).append(operation["summary"])
    return tuple((name, tuple(summaries)) for name, summaries in sorted(found.items()))


@cache
def group(name: str) -> Group:
    raw = [one for one in operations(document()) if group_of(one[0]) == name]
    shown = tuple(shown_operation(path, method, operation) for path, method, operation in raw)
    used = reached([operation for _, _, operation in raw])
    return Group(name, shown, tuple(shape_of(one, component(one)) for one in sorted(used)))


def component(name: str) -> Schema:
    found: Schema = document()["components"]["schemas"][name]
    return found


def reached(nodes: list[Any]) -> set[str]:
    """The components that these rest on; a refusal is explained on a page of its own."""
    found: set[str] = set()
    waiting = list(nodes)
    while waiting:
        for one in every_schema(waiting.pop()):
            name = name_in(one)
            if name and name not in found | LONG_VOCABULARIES:
                found.add(name)
                waiting.append(component(name))
    return found


def name_in(schema: Schema) -> str:
    address = schema.get("$ref", "")
    return address.removeprefix(SCHEMAS) if isinstance(address, str) and address.startswith(SCHEMAS) else ""


def shown_operation(path: str, method: str, operation: Schema) -> DocumentedOperation:
    content = operation.get("requestBody", {}).get("content", {})
    body: Schema = next(iter(content.values()), {})
    return DocumentedOperation(
        id=operation["operationId"],
        method=method.upper(),
        path=path,
        summary=operation["summary"],
        text=operation.get("description", ""),
        parameters=tuple(shown_parameters(operation.get("parameters", ()))),
        body=member("", body["schema"], True) if body.get("schema") else None,
        body_example=as_text(body.get("example")),
        replies=tuple(replies(operation["responses"])),
    )


def shown_parameters(parameters: Any) -> Iterator[Member]:
    """A number with its two bounds is one line."""
    given = {one["name"] for one in parameters}
    for one in parameters:
        name = one["name"]
        if name.endswith(BOUNDS) and name[: -len(BOUNDS[0])] in given:
            continue
        bounds = [f"{name}{ending}" for ending in BOUNDS if name + ending in given]
        shown = member(", ".join([name, *bounds]), one["schema"], one["required"])
        text = one.get("description", "")
        yield Member(shown.name, f"{one['in']}: {shown.kind}", shown.link, shown.is_required, text)


def replies(answers: Schema) -> Iterator[Reply]:
    for status, answer in sorted(answers.items()):
        if "$ref" in answer:
            name = answer["$ref"].rpartition("/")[2]
            answer = document()["components"]["responses"][name]
            yield Reply(status, answer["description"], None, (), "")
            continue
        content: Schema = next(iter(answer.get("content", {}).values()), {})
        schema = content.get("schema")
        yield Reply(
            status,
            answer["description"],
            member("", schema, True) if schema else None,
            tuple(answer.get("headers", ())),
            example_in(content),
        )


def example_in(content: Schema) -> str:
    for one in content.get("examples", {}).values():
        name = str(one.get("$ref", "")).removeprefix(EXAMPLES)
        return as_text(document()["components"]["examples"].get(name, {}).get("value"))
    return ""


def as_text(example: Any) -> str:
    if example is None:
        return ""
    text = json.dumps(example, ensure_ascii=False, indent=1)
    return text if len(text) <= LONGEST_EXAMPLE else f"{text[:LONGEST_EXAMPLE]}\n…"


def own_members(schema: Schema) -> Schema:
    """Of one form of many, told apart by a word, the members that are its own."""
    known: Schema = schema.get("properties", {})
    told_apart = any("const" in one for one in known.values())
    return {key: one for key, one in known.items() if not told_apart or "const" in one or name_in(one)}


def shape_of(name: str, schema: Schema) -> Shape:
    required = schema.get("required", ())
    members = tuple(member(key, one, key in required) for key, one in own_members(schema).items()) or tuple(
        member("", one, False) for one in schema.get("oneOf", ())
    )
    words = tuple(str(one) for one in schema.get("enum", ()))
    return Shape(name, schema.get("description", ""), members, words)


def member(name: str, schema: Schema, required: bool) -> Member:
    text = schema.get("description", "")
    return Member(name, kind_of(schema), linked(schema), required, text)


def linked(schema: Schema) -> str:
    """The component behind a member, a list of it, or it beside null."""
    found = [name for one in every_schema(schema) if (name := name_in(one))]
    return found[0] if found and found[0] not in LONG_VOCABULARIES else ""


def kind_of(schema: Schema) -> str:
    if name := name_in(schema):
        return name
    for union in ("oneOf", "anyOf", "allOf"):
        if union in schema:
            return " | ".join(kind_of(one) for one in schema[union])
    if "enum" in schema or "const" in schema:
        return " | ".join(str(one) for one in schema.get("enum", [schema.get("const")]))
    kinds = schema.get("type", "any")
    kinds = kinds if isinstance(kinds, list) else [kinds]
    shown = [f"[{kind_of(schema.get('items', {}))}]" if kind == "array" else kind for kind in kinds]
    if "string" in shown and schema.get("format"):
        shown[shown.index("string")] = schema["format"]
    return " | ".join(shown)
