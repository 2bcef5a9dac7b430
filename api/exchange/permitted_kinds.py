"""Which kinds of file each role may import."""

from collections.abc import Collection

from api.models import Role

COUNTER_KINDS = frozenset({"movements", "installations", "inspections", "requests"})
"""What a storeroom writes every day; the other kinds are the manager's."""
MANAGER_KINDS = frozenset({"stock-policies", "service-targets", "source-answers"})
"""What a person decides, and no system that is connected."""


def may_import(kind: str, roles: Collection[str]) -> bool:
    if kind in MANAGER_KINDS:
        return Role.MANAGER in roles
    if kind in COUNTER_KINDS:
        return bool(set(roles) & {Role.MANAGER, Role.INTEGRATION, Role.STOREROOM})
    return bool(set(roles) & {Role.MANAGER, Role.INTEGRATION})
