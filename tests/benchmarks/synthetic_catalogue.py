"""Items, specifications, storerooms and stock of a synthetic group of plants."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from inventory.models import (
    Bin,
    Item,
    OpeningHours,
    Specification,
    StockEntry,
    StockLevel,
    StockPiece,
    Storeroom,
    TransferTime,
)
from inventory.standards.chains import Chain, find_chain
from tests.benchmarks.bulk_rows import moments, write_rows
from tests.benchmarks.synthetic_group import (
    BORES,
    BUSHES,
    CHAINS,
    QUESTION_CHAIN,
    QUESTION_STRANDS,
    QUESTION_TEETH,
    YEARS,
    Size,
)

QUESTION_ITEMS = 10
COMPANION_KINDS = ("bush", "key", "chain", "joining_link")
BINS_OF_A_STOREROOM = 50
CATALOGUE = [find_chain(name) for name in (*CHAINS, QUESTION_CHAIN)]
QUESTION_INDEX = len(CATALOGUE) - 1


@dataclass(frozen=True)
class Catalogue:
    """What the plants need of the items: by row, the chain, teeth, strands, bore and kind."""

    kind: np.ndarray
    chain: np.ndarray
    teeth: np.ndarray
    strands: np.ndarray
    bore_mm: np.ndarray
    bush_size: np.ndarray


def write_catalogue(size: Size, rng: np.random.Generator) -> Iterator[str]:
    catalogue = _drawn(size, rng)
    yield f"{write_rows(Specification, _specifications(catalogue, rng)):,} specifications"
    yield f"{write_rows(Item, _items(catalogue, rng)):,} items"
    yield from _write_storerooms(size, rng)
    yield from _write_stock(size, rng, catalogue)
    return catalogue


def _drawn(size: Size, rng: np.random.Generator) -> Catalogue:
    count = size.items
    rank = 1 / np.arange(1, len(CHAINS) + 1)
    chain = rng.choice(len(CHAINS), count, p=rank / rank.sum())
    teeth = np.clip(np.exp(rng.normal(np.log(26), 0.45, count)), 8, 120).astype(int)
    strands = rng.choice((1, 2, 3), count, p=(0.78, 0.15, 0.07))
    kind = np.where(rng.random(count) < 0.05, rng.choice(COMPANION_KINDS, count), "sprocket")
    bush = np.where(rng.random(count) < 0.3, rng.choice(list(BUSHES), count), "")
    bore = rng.choice(BORES, count)
    of_question = slice(0, QUESTION_ITEMS)
    chain[of_question], teeth[of_question], strands[of_question] = (
        QUESTION_INDEX,
        QUESTION_TEETH,
        QUESTION_STRANDS,
    )
    kind[of_question], bore[of_question] = "sprocket", 60
    bush[of_question] = ["", "", "", "3020", "3020", "3020", "", "", "", ""]
    return Catalogue(kind, chain, teeth, strands, bore.astype(float), bush)


def _specifications(catalogue: Catalogue, rng: np.random.Generator) -> dict[str, Any]:
    count = len(catalogue.kind)
    is_sprocket, is_bush = catalogue.kind == "sprocket", catalogue.kind == "bush"
    has_chain = is_sprocket | np.isin(catalogue.kind, ("chain", "joining_link"))
    is_bushed = is_sprocket & (catalogue.bush_size != "")
    is_unknown = is_sprocket & (rng.random(count) < 0.002) & (np.arange(count) >= QUESTION_ITEMS)
    has_pitch, has_teeth = has_chain & ~(is_unknown & (rng.random(count) < 0.5)), is_sprocket & ~is_unknown
    is_pilot = is_sprocket & ~is_bushed & (rng.random(count) < 0.3)
    bore = np.where(is_pilot, 16.0, catalogue.bore_mm)
    key = np.where(bore < 22, 6.0, np.where(bore < 30, 8.0, np.where(bore < 44, 12.0, 16.0)))
    hub = np.round(catalogue.bore_mm * 1.6 + 10, 0)
    return {
        "kind": catalogue.kind,
        "chain_designation": _texts([c.designation for c in CATALOGUE], catalogue.chain, has_pitch),
        **{
            name: _numbers(_of_chains(name)[catalogue.chain], has_pitch)
            for name in ("pitch_mm", "roller_diameter_mm", "inner_width_mm", "transverse_pitch_mm")
        },
        "strands": _numbers(catalogue.strands, has_chain),
        "teeth": _numbers(catalogue.teeth, has_teeth),
        "hub_style": _texts(["A", "B", "C"], rng.choice(3, count, p=(0.1, 0.7, 0.2)), is_sprocket),
        "bore_type": np.where(
            is_sprocket, np.where(is_bushed, "tapered", np.where(is_pilot, "plain", "finished")), ""
        ),
        "bore_mm": _numbers(np.where(is_bush, catalogue.bore_mm, bore), (is_sprocket & ~is_bushed) | is_bush),
        "max_bore_mm": _numbers(np.maximum(np.round(hub * 0.6), bore), is_sprocket & ~is_bushed),
        "keyway_width_mm": _numbers(
            key, (is_sprocket & ~is_bushed & ~is_pilot) | is_bush | (catalogue.kind == "key")
        ),
        "bush_size": np.where(
            is_bushed, catalogue.bush_size, np.where(is_bush, rng.choice(list(BUSHES), count), "")
        ),
        "hub_diameter_mm": _numbers(hub, is_sprocket),
        "length_through_bore_mm": _numbers(np.round(rng.normal(45, 8, count).clip(20, 90)), is_sprocket),
        "key_height_mm": _numbers(np.round(key * 0.7), catalogue.kind == "key"),
        "material": _texts(
            ["carbon_steel", "cast_iron", "stainless_steel"],
            rng.choice(3, count, p=(0.8, 0.12, 0.08)),
            is_sprocket,
        ),
    }


def _items(catalogue: Catalogue, rng: np.random.Generator) -> dict[str, Any]:
    count = len(catalogue.kind)
    numbers = rng.permutation(count)
    numbers[:QUESTION_ITEMS] = -1
    return {
        "stock_number": [
            f"{i // 10_000:02d}-{i % 10_000:04d}-{i % 7}" if i >= 0 else f"QUESTION-{row + 1}"
            for row, i in enumerate(numbers.tolist())
        ],
        "description": [
            f"{kind} {CATALOGUE[chain].designation} {teeth}T {strands} strand"
            for kind, chain, teeth, strands in zip(
                catalogue.kind.tolist(),
                catalogue.chain.tolist(),
                catalogue.teeth.tolist(),
                catalogue.strands.tolist(),
                strict=True,
            )
        ],
        "specification_id": range(1, count + 1),
        "unit": np.where(catalogue.kind == "chain", "link", "each"),
        "maker": [f"Maker {number}" for number in rng.integers(1, 60, count).tolist()],
        "unit_cost": np.round(np.exp(rng.normal(3.8, 0.9, count)), 2),
        "lead_time_days": rng.choice((5, 14, 28, 56, 98), count),
    }


def _write_storerooms(size: Size, rng: np.random.Generator) -> Iterator[str]:
    rooms = range(1, size.storerooms + 1)
    write_rows(
        Storeroom,
        {
            "code": [f"S{room:03d}" for room in rooms],
            "name": [f"Storeroom {room}" for room in rooms],
            "timezone": "Europe/Vienna",
            "pick_minutes": 10,
            "call_out_minutes": 90,
        },
    )
    bins = range(1, BINS_OF_A_STOREROOM + 1)
    write_rows(
        Bin,
        {
            "storeroom_id": [r for r in rooms for _ in bins],
            "code": [f"B{b:02d}" for _ in rooms for b in bins],
        },
    )
    write_rows(
        OpeningHours,
        {
            "storeroom_id": [room for room in rooms for _ in range(5)],
            "weekday": [day for _ in rooms for day in range(5)],
            "opens": "06:00:00",
            "closes": "18:00:00",
        },
    )
    ways = [(a, b) for a in rooms for b in rooms if a != b]
    minutes = [10 + 5 * (a % 5) if (a - 1) // 7 == (b - 1) // 7 else 120 + (a * b) % 600 for a, b in ways]
    columns = {"from_storeroom_id": [a for a, _ in ways], "to_storeroom_id": [b for _, b in ways]}
    yield f"{write_rows(TransferTime, {**columns, 'minutes': minutes}):,} transfer times"


def _write_stock(size: Size, rng: np.random.Generator, catalogue: Catalogue) -> Iterator[str]:
    item, room = _places(size, rng)
    count = len(item)
    is_chain = catalogue.kind[item - 1] == "chain"
    on_hand = np.where(is_chain, 120, rng.geometric(0.55, count) - 1)
    on_hand[: QUESTION_ITEMS * 2] = 1
    same: dict[str, Any] = {"item_id": item, "storeroom_id": room, "condition": "new"}
    bins = (room - 1) * BINS_OF_A_STOREROOM + rng.integers(1, BINS_OF_A_STOREROOM + 1, count)
    yield f"{write_rows(StockLevel, {**same, 'bin_id': bins, 'on_hand': on_hand}):,} stock rows"
    levels = np.flatnonzero(is_chain) + 1
    if levels.size:
        write_rows(StockPiece, {"level_id": levels, "links": [120] * len(levels)})
    held = on_hand > 0
    at = moments(rng.uniform(0, 365.25 * YEARS, int(held.sum())))
    pieces = np.cumsum(is_chain)[held]
    columns = {
        "kind": "receipt",
        "item_id": item[held],
        "storeroom_id": room[held],
        "condition": "new",
        "piece_id": _numbers(pieces, is_chain[held]),
        "change": on_hand[held],
        "balance_after": on_hand[held],
        "occurred_at": at,
        "recorded_at": at,
        "recorded_by_name": "opening",
    }
    yield f"{write_rows(StockEntry, columns):,} movements"


def _places(size: Size, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Item and storeroom of each row, each pair once; the items of the question lie in the first two storerooms."""
    item = rng.integers(QUESTION_ITEMS + 1, size.items + 1, int(size.stock_rows * 1.02) + 50)
    room = rng.integers(1, size.storerooms + 1, len(item))
    pairs = np.unique(item.astype(np.int64) * (size.storerooms + 1) + room)
    rng.shuffle(pairs)
    pairs = pairs[: size.stock_rows]
    own = np.arange(1, QUESTION_ITEMS + 1)
    item = np.concatenate((own, own, pairs // (size.storerooms + 1)))
    return item, np.concatenate((np.ones_like(own), np.full_like(own, 2), pairs % (size.storerooms + 1)))


def _of_chains(name: str) -> np.ndarray:
    return np.array([_length(chain, name) for chain in CATALOGUE])


def _length(chain: Chain, name: str) -> float:
    return float(getattr(chain, name) or np.nan)


def _numbers(values: np.ndarray, is_known: np.ndarray) -> list[Any]:
    known = is_known & ~np.isnan(values.astype(float))
    return [value if here else None for value, here in zip(values.tolist(), known.tolist(), strict=True)]


def _texts(words: list[str], index: np.ndarray, is_known: np.ndarray) -> np.ndarray:
    return np.where(is_known, np.array(words)[index], "")
