"""Names of components and vocabularies: one class for each, and none for `or null`."""

from collections.abc import Callable, Iterator
from typing import Any

from api.edge.openapi.tables import vocabularies

SCHEMAS = "#/components/schemas/"
ENDINGS = (("RequestRequest", "Request"), ("BodyRequest", "Request"))
Schema = dict[str, Any]


def every_schema(node: Any) -> Iterator[Schema]:
    """Each object of the document, the inner ones first."""
    if isinstance(node, dict):
        for value in list(node.values()):
            yield from every_schema(value)
        yield node
    elif isinstance(node, list):
        for value in node:
            yield from every_schema(value)


def rename_components(document: Schema) -> None:
    """A serializer that reads is called after what it reads, and `Request` is said once."""
    schemas = document["components"]["schemas"]
    new = {name: shorter for name in schemas if (shorter := shortened(name)) != name}
    assert not set(new.values()) & set(schemas), "Two components would have one name."
    document["components"]["schemas"] = {new.get(name, name): one for name, one in schemas.items()}

    def renamed(address: str) -> str:
        name = address.removeprefix(SCHEMAS)
        return SCHEMAS + new.get(name, name)

    refer(document, renamed)


def shortened(name: str) -> str:
    for ending, shorter in ENDINGS:
        if name.endswith(ending):
            return name.removesuffix(ending) + shorter
    return name


def refer(document: Schema, renamed: Callable[[str], str]) -> None:
    for one in every_schema(document):
        address = one.get("$ref")
        if isinstance(address, str) and address.startswith(SCHEMAS):
            one["$ref"] = renamed(address)
        mapping = (
            one.get("discriminator", {}).get("mapping")
            if isinstance(one.get("discriminator"), dict)
            else None
        )
        if isinstance(mapping, dict):
            mapping.update({key: renamed(value) for key, value in mapping.items()})


def words_of(schema: Schema) -> frozenset[Any]:
    return frozenset(word for word in schema.get("enum", ()) if word not in (None, ""))


def name_vocabularies(document: Schema) -> None:
    """Each list of words becomes a component; where there may be none, it stands beside null."""
    schemas = document["components"]["schemas"]
    named: dict[frozenset[Any], str] = {}
    for name, place in vocabularies().items():
        component, _, member = place.partition(".")
        found = schemas.get(component, {}).get("properties", {}).get(member)
        if found is not None:
            listed = found.get("items", found)
            named[words_of(listed)] = name
            schemas[name] = {
                "type": "string",
                "enum": [one for one in listed["enum"] if one not in (None, "")],
            }
    own = {id(schemas[name]) for name in named.values()}
    for one in every_schema([document["components"], document["paths"]]):
        one.pop("x-spec-enum-id", None)
        if isinstance(one.get("enum"), list) and id(one) not in own:
            split_null(one, named.get(words_of(one), ""))


def split_null(schema: Schema, name: str) -> None:
    """The vocabulary by its name, or as it stands where it is no more than one word; null beside it."""
    if not name and None not in schema["enum"]:
        return
    listed = [word for word in schema["enum"] if word is not None]
    words = {"$ref": SCHEMAS + name} if name else {"type": "string", "enum": listed}
    nullable = None in schema["enum"]
    for member in ("enum", "type"):
        schema.pop(member, None)
    schema |= {"oneOf": [words, {"type": "null"}]} if nullable else words
