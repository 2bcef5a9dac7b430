"""What an operation is called: a verb and a noun, from which its id follows."""

import re
from collections.abc import Iterator
from typing import Any

from api.edge.auth import API_ROOT
from api.edge.openapi.names import Schema
from api.edge.openapi.tables import summaries

METHODS = ("get", "post", "put", "patch", "delete")
ARTICLES = frozenset({"a", "an", "the"})
SINGULAR = {
    "stock-policies": "stock policy",
    "opening-hours": "opening hours",
    "equipment": "machine",
    "duplicates": "group of duplicates",
}
PLURAL = {"duplicates": "groups of duplicates", "equipment": "machines"}
STANDARD = {
    "post": "Create {one}",
    "get": "Read {one}",
    "put": "Replace {one}",
    "patch": "Change {one}",
    "delete": "Delete {one}",
}


def operations(document: Schema) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in document.get("paths", {}).items():
        for method in METHODS:
            if method in item:
                yield path, method, item[method]


def name_operations(document: Schema) -> None:
    for path, method, operation in operations(document):
        operation["summary"] = summary_of(path.removeprefix(API_ROOT), method)
        operation["operationId"] = id_of(operation["summary"])


def summary_of(path: str, method: str) -> str:
    known = summaries().get((method, path))
    if known:
        return known
    collection, _, below = path.partition("{")
    kind = collection.strip("/")
    if method == "get" and not below:
        return f"List {PLURAL.get(kind, kind.replace('-', ' ').replace('/', ' '))}"
    return STANDARD[method].format(one=with_article(singular(kind)))


def singular(kind: str) -> str:
    return SINGULAR.get(kind) or kind.removesuffix("s").replace("-", " ").replace("/", " ")


def with_article(noun: str) -> str:
    if noun.endswith("hours"):
        return noun
    return f"{'an' if noun[0] in 'aeio' else 'a'} {noun}"


def id_of(summary: str) -> str:
    """The words of a summary without its articles: `Accept a recommendation` is accept_recommendation."""
    words = re.findall(r"[a-z0-9]+", summary.lower())
    return "_".join(word for word in words if word not in ARTICLES)
