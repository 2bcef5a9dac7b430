"""The part of the OpenAPI document that describes an answer."""

from typing import Any

from jsonschema import Draft202012Validator


def description_of(document: dict[str, Any], path: str, method: str, status: int) -> dict[str, Any]:
    """The answer of an operation with that status, followed to where it is described."""
    found: dict[str, Any] = document["paths"][path][method]["responses"][str(status)]
    while "$ref" in found:
        found = document["components"]["responses"][found["$ref"].rpartition("/")[2]]
    return found


def validator(document: dict[str, Any], schema: dict[str, Any]) -> Draft202012Validator:
    return Draft202012Validator({**schema, "components": document["components"]})


def check_answer(document: dict[str, Any], path: str, method: str, response: Any) -> Any:
    """The JSON of the answer, after it was held against its description."""
    content = description_of(document, path, method, response.status_code)["content"]
    kind = response["Content-Type"].partition(";")[0]
    validator(document, content[kind]["schema"]).validate(response.json())
    return response.json()
