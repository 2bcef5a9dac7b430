"""A word for every member and parameter: the one that its declaration has, else the one of the table."""

from typing import Any

from api.edge.openapi.names import Schema
from api.edge.openapi.tables import members

BOUNDS = {"__gte": " At least this value.", "__lte": " At most this value."}


def describe_members(document: Schema) -> None:
    for name, schema in document["components"]["schemas"].items():
        describe_properties(schema, base_of(name))


def base_of(component: str) -> str:
    """The record that a body is about has the words of its members."""
    return component.removeprefix("Patched").removesuffix("Request")


def describe_properties(schema: Any, component: str) -> None:
    if not isinstance(schema, dict):
        return
    for name, member in schema.get("properties", {}).items():
        if not member.get("description") and (words := words_of(name, component)):
            member["description"] = words
        describe_properties(member, f"{component}.{name}")
    for part in ("items", "additionalProperties"):
        describe_properties(schema.get(part), component)
    for part in ("oneOf", "anyOf", "allOf"):
        for one in schema.get(part, ()):
            describe_properties(one, component)


def words_of(member: str, component: str = "") -> str:
    known = members()
    return known.get(f"{component}.{member}") or known.get(member, "")


def describe_parameters(operation: Schema) -> None:
    for one in operation.get("parameters", ()):
        if not one.get("description"):
            one["description"] = parameter_words(one["name"])


def parameter_words(name: str) -> str:
    for ending, words in BOUNDS.items():
        if name.endswith(ending):
            return words_of(name.removesuffix(ending)) + words
    return words_of(name)
