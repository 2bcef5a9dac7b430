"""What is declared once for each record: its natural key, who may see its rows, and how the change log names it.

A model that is not declared shows nothing to a caller with limits, so that a new one cannot leak.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db.models import Model, Q

from inventory.models.access_scope import AccessScope

ScopeRule = Callable[[AccessScope], Q]
EVERY_ROW = Q()


@dataclass(frozen=True)
class Scope:
    """Which rows a caller with limits sees: those of its plants and of its storerooms, or those of `rule`.

    `plant` and `storerooms` are paths to these records, "pk" for the record itself; the change log names the plant and
    the first storeroom too.
    """

    plant: str = ""
    storerooms: tuple[str, ...] = ()
    rule: ScopeRule | None = None

    def rows(self, scope: AccessScope) -> Q:
        if self.rule is not None:
            return self.rule(scope)
        found = EVERY_ROW
        if self.plant and scope.plants is not None:
            found &= Q(**{f"{self.plant}__in": scope.plants})
        if scope.storerooms is not None:
            for path in self.storerooms:
                found &= Q(**{f"{path}__in": scope.storerooms})
        return found


EVERYBODY = Scope(rule=lambda scope: EVERY_ROW)
"""Shared by all plants, or shown to its owner alone by its view."""
NOBODY = Scope(rule=lambda scope: Q(pk__in=[]))


def in_plant(path: str) -> Scope:
    return Scope(plant=path)


def in_storeroom(*paths: str) -> Scope:
    return Scope(storerooms=paths)


@dataclass(frozen=True)
class LogName:
    """Paths to the parts of a record's name in the change log, and to the codes of its storeroom and plant."""

    key: tuple[str, ...]
    storeroom: str = ""
    plant: str = ""


@dataclass(frozen=True, eq=False)
class Declaration:
    """`key` and `log_key` are names with spaces between them; without `log_key` the natural key names a record."""

    model: type[Model]
    key: str = ""
    scope: Scope = NOBODY
    log_key: str = ""
    is_logged: bool = True

    @property
    def key_fields(self) -> tuple[str, ...]:
        return tuple(self.key.split())

    def log_name(self) -> LogName:
        names = (self.log_key or self.key or "pk").split()
        storeroom = self.scope.storerooms[0] if self.scope.storerooms else ""
        return LogName(
            tuple(path_of(self.model, name) for name in names),
            code_of(storeroom),
            code_of(self.scope.plant),
        )


def code_of(path: str) -> str:
    return "code" if path == "pk" else path and f"{path}__code"


def path_of(model: type[Model], name: str) -> str:
    """A column as it is named to people: for a reference, the path to the natural key of what it refers to."""
    field = next((one for one in model._meta.concrete_fields if one.name == name), None)
    target: Any = field and field.related_model
    return f"{name}__{declared(target).key_fields[-1]}" if target else name


_declarations: dict[type[Model], Declaration] = {}
Declared = TypeVar("Declared", bound=Declaration)


def declare(declaration: Declared) -> Declared:
    assert declaration.model not in _declarations, f"{declaration.model} is declared twice."
    _declarations[declaration.model] = declaration
    return declaration


def declarations() -> Iterator[Declaration]:
    return iter(_declarations.values())


def find_declaration(model: type[Model]) -> Declaration | None:
    return _declarations.get(model)


def declared(model: type[Model]) -> Declaration:
    return _declarations[model]
