"""The last hook of the schema generator: names, words, answers and examples of everything in the document."""

from typing import Any

from api.edge.openapi.examples import add_examples
from api.edge.openapi.names import Schema, name_vocabularies, rename_components
from api.edge.openapi.operations import name_operations, operations
from api.edge.openapi.responses import document_answers
from api.edge.openapi.words import describe_members, describe_parameters


def complete(result: Schema, **kwargs: Any) -> Schema:
    rename_components(result)
    name_vocabularies(result)
    name_operations(result)
    document_answers(result)
    describe_members(result)
    close_bodies(result)
    for _, method, operation in operations(result):
        describe_parameters(operation)
        if method == "patch":
            take_merge_patches(operation)
    add_examples(result)
    return result


def close_bodies(document: Schema) -> None:
    """Members unknown to a request body are refused."""
    for name, schema in document["components"]["schemas"].items():
        if name.endswith("Request") and schema.get("type") == "object" and "properties" in schema:
            schema.setdefault("additionalProperties", False)


def take_merge_patches(operation: Schema) -> None:
    content = operation.get("requestBody", {}).get("content", {})
    if "application/json" in content:
        content.setdefault("application/merge-patch+json", content["application/json"])
