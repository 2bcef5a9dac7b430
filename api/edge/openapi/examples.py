"""An example for every operation: bodies that the demo plant takes, and answers that it gave, each once for its component.

`requests.json` is written by hand, by the id of the operation. `answers.json` is written by
`python -m tests.api.record_examples`, by component, with lists cut to their first lines. What a record is created with
follows from the record.
"""

import json
from functools import cache
from pathlib import Path
from typing import Any

from api.edge.openapi.names import SCHEMAS, Schema
from api.edge.openapi.operations import operations
from api.edge.openapi.words import base_of

HERE = Path(__file__).parent
EXAMPLES = "#/components/examples/"
PAGE = {"next", "previous", "stopped_after", "results"}
CHANGED = 1
"""Members in the example of a change."""


@cache
def table(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))
    return found


def add_examples(document: Schema) -> None:
    schemas = document["components"]["schemas"]
    answers = {name: one for name, one in table("answers").items() if name in schemas}
    for name, schema in schemas.items():
        if name not in answers and (page := page_of(schema, answers)):
            answers[name] = page
    document["components"]["examples"] = {name: {"value": one} for name, one in sorted(answers.items())}
    keys = record_keys(document, answers)
    for path, method, operation in operations(document):
        show_body(document, operation, method, answers)
        show_answers(operation, answers)
        show_address(path, operation, keys)


def component_of(schema: Schema) -> str:
    return str(schema.get("$ref", "")).removeprefix(SCHEMAS)


def page_of(schema: Schema, answers: dict[str, Any]) -> dict[str, Any] | None:
    """A page of the records of which an example is known."""
    listed = schema.get("properties", {}).get("results", {}).get("items", {})
    known = answers.get(component_of(listed))
    if known is None or set(schema["properties"]) != PAGE:
        return None
    return dict.fromkeys(schema["properties"]) | {"results": [known]}


def show_body(document: Schema, operation: Schema, method: str, answers: dict[str, Any]) -> None:
    content = operation.get("requestBody", {}).get("content", {})
    for one in content.values():
        name = component_of(one.get("schema", {}))
        body = table("requests").get(operation["operationId"])
        if body is None and base_of(name) in answers:
            record, schema = answers[base_of(name)], document["components"]["schemas"][name]
            body = body_of(record, schema, whole=method != "patch")
        if body is not None:
            one["example"] = body


def body_of(record: dict[str, Any], schema: Schema, *, whole: bool) -> dict[str, Any]:
    """What the record would be created or changed with."""
    members = schema["properties"]
    known = {name: written(record[name]) for name in members if record.get(name) is not None}
    if whole:
        return known
    return dict(list(known.items())[-CHANGED:])


def written(value: Any) -> Any:
    """A record inside another is named by its number."""
    return value["id"] if isinstance(value, dict) and "id" in value else value


def show_answers(operation: Schema, answers: dict[str, Any]) -> None:
    for code, answer in operation["responses"].items():
        for one in answer.get("content", {}).values():
            if code.startswith("2") and (name := component_of(one.get("schema", {}))) in answers:
                one["examples"] = {"demo": {"$ref": EXAMPLES + name}}


def record_keys(document: Schema, answers: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The example of the record that stands at each address."""
    found = {}
    for path, method, operation in operations(document):
        content = operation["responses"].get("200", {}).get("content", {}).get("application/json", {})
        name = component_of(content.get("schema", {}))
        if method == "get" and path.endswith("}/") and name in answers:
            found[path.partition("{")[0]] = answers[name]
    return found


def show_address(path: str, operation: Schema, keys: dict[str, dict[str, Any]]) -> None:
    record = keys.get(path.partition("{")[0], {})
    for one in operation.get("parameters", ()):
        if one["in"] == "path":
            name = one["name"]
            value = record.get("stock_number" if name == "key" else name)
            if value is not None:
                one["example"] = str(value) if one["schema"].get("type") == "string" else value
