"""A small plant with a record of each kind, and the keys by which its records are addressed and referred to."""

import random
from collections.abc import Iterable, Mapping
from typing import Any

from rest_framework.test import APIClient

from tests import factories as make
from tests.attacks.sites import site

WORDS = {
    "storeroom": "WEIR",
    "to_storeroom": "WEIR-N",
    "from_storeroom": "WEIR-N",
    "plant": "WEIR",
    "equipment": "WEIR-EL1",
    "drive": "WEIR-D1",
    "position": "WEIR-P1",
    "item": "SPR-BOTH",
    "stock_number": "SPR-BOTH",
    "work_order": "WEIR-WO",
    "chain": "08B",
    "machine_shop": "SHOP",
}
"""What members and parameters of that name may well say."""


def make_world() -> None:
    site("WEIR")
    make.ServiceTargetFactory()
    make.RuleFactory()
    make.ShopTimeFactory()


def known_rows(client: APIClient, names: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
    """The rows of each collection, from the lists themselves: whatever a list shows can be asked for by itself."""
    rows = {}
    for name in names:
        answer = client.get(f"/api/v1/{name}/")
        listed = answer.json() if answer.status_code == 200 else {}
        rows[name] = listed.get("results", []) if isinstance(listed, dict) else []
    return rows


def told(value: Any, chance: random.Random, words: Mapping[str, str]) -> Any:
    """The body with known words at some of the members that refer to records."""
    if isinstance(value, list):
        return [told(one, chance, words) for one in value]
    if not isinstance(value, dict):
        return value
    return {
        name: words[name] if name in words and chance.random() < 0.7 else told(one, chance, words)
        for name, one in value.items()
    }
