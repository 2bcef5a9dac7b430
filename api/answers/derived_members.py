"""Members of an answer, from the type hints of the dataclass of a core."""

from collections.abc import Callable, Mapping
from datetime import date
from enum import Enum
from functools import cache, cached_property
from operator import attrgetter
from types import NoneType, UnionType
from typing import Any, ClassVar, Literal, Union, get_args, get_origin, get_type_hints

from rest_framework import serializers

from api.wire.facts import FactSerializer
from inventory.facts import Fact

ANSWERED: dict[Any, Any] = {
    str: serializers.CharField,
    bool: serializers.BooleanField,
    int: serializers.IntegerField,
    float: serializers.FloatField,
    date: serializers.DateField,
    Fact: FactSerializer,
}
"""A dataclass that has a serializer of its own is added where that is declared."""


@cache
def hint_of(owner: type, path: str) -> tuple[Any, bool]:
    """The type of a field or property, and whether it may be None; `path` has dots where one leads to another."""
    found: Any = owner
    is_optional = False
    for name in path.split("."):
        attribute = getattr(found, name, None)
        getter = getattr(attribute, "fget", None) or getattr(attribute, "func", None)
        hint = get_type_hints(getter)["return"] if getter else get_type_hints(found)[name]
        kinds = get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
        is_optional |= NoneType in kinds
        found = next(kind for kind in kinds if kind is not NoneType)
    return found, is_optional


def words_of(kind: Any) -> list[str]:
    """The words of a vocabulary; none where the type is no vocabulary."""
    if get_origin(kind) is Literal:
        return list(get_args(kind))
    return [word.value for word in kind] if isinstance(kind, type) and issubclass(kind, Enum) else []


@cache
def shared(kind: type[serializers.Serializer[Any]]) -> Any:
    """One that shows values and keeps none, so that its members are built once a process."""
    return kind()


def _finder(field: Any) -> Callable[[Any], Any]:
    """As the field finds its value, without asking what kind of thing it looks into."""
    if field.source == "*":
        return lambda instance: instance
    get = attrgetter(field.source)

    def find(instance: Any) -> Any:
        try:
            return get(instance)
        except AttributeError:  # A mapping, or nothing where the path leads through.
            return field.get_attribute(instance)

    return find


# `members` of the dataclass `of`, in order; `name=path` stands elsewhere in it. Declared ones are as declared.
class CoreAnswerSerializer(serializers.Serializer[Any]):
    of: ClassVar[type]
    members: ClassVar[str]
    texts: ClassVar[Mapping[str, str]] = {}

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        if "of" in vars(cls):
            ANSWERED.setdefault(cls.of, cls)

    @cached_property
    def _plan(self) -> list[tuple[str, Callable[[Any], Any], Callable[[Any], Any]]]:
        """Name, where it stands and how it is shown: worked out once, as an answer shows the same members thousands of times."""
        return [(name, _finder(field), field.to_representation) for name, field in self.fields.items()]

    def to_representation(self, instance: Any) -> dict[str, Any]:
        return {
            name: None if (value := find(instance)) is None else show(value)
            for name, find, show in self._plan
        }

    def get_fields(self) -> dict[str, Any]:
        declared = super().get_fields()
        pairs = [word.partition("=") for word in self.members.split()]
        named = {name: declared.get(name) or self.answered(name, path) for name, _, path in pairs}
        return named | declared

    def answered(self, name: str, path: str) -> Any:
        kind, is_optional = hint_of(self.of, path or name)
        options: dict[str, Any] = {"source": path} if path else {}
        if is_optional:
            options["allow_null"] = True
        if name in self.texts:
            options["help_text"] = self.texts[name]
        if words := words_of(kind):
            return serializers.ChoiceField(choices=words, **options)
        if get_origin(kind) is not tuple:
            return ANSWERED[kind](**options)
        each = ANSWERED[get_args(kind)[0]]
        if issubclass(each, serializers.BaseSerializer):
            return each(many=True, **options)
        return serializers.ListField(child=each(), **options)
