"""What lies in the storerooms for an answer: the stock of some items, and the available parts that go with a sprocket."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from inventory.catalogue.core_values import core_value, word_or_none
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.key import keyseat_for
from inventory.interchange.requirement import Engagement, Requirement
from inventory.interchange.thresholds import Thresholds, range_of
from inventory.interchange.vocabulary import KeyStandard, ShaftKind
from inventory.models import Item, PartKind, StockLevel
from inventory.models.specification import keyway_sql
from inventory.models.stock import AVAILABLE_CONDITIONS
from inventory.plumbing.joint_statement import Parameters, Question, Row, answers
from inventory.stocking.chain_pieces import pieces_left

PART_COLUMNS = (
    *("kind", "bush_size", "bore_mm", "keyway_width_mm", "keyway_depth_mm", "key_height_mm", "key_standard"),
    *("chain_designation", "strands"),
)
LEVEL_COLUMNS = {
    "pk": "k.id",
    "is_companion": "lying.is_companion",
    "item_id": "k.item_id",
    "storeroom_id": "k.storeroom_id",
    "condition": "k.condition",
    "on_hand": "k.on_hand",
    "reserved": "k.reserved",
    "transfer_minutes": "lying.minutes",
    "stock_number": "i.stock_number",
    "storeroom_code": "r.code",
    "timezone": "r.timezone",
    "pick_minutes": "r.pick_minutes",
    "call_out_minutes": "r.call_out_minutes",
    "bin_code": "b.code",
    "links": "p.links",
    **{name: f"s.{name}" for name in PART_COLUMNS},
}
SHELVES = Question(
    tuple(LEVEL_COLUMNS.values()),
    """FROM lying JOIN inventory_stocklevel k ON k.id = lying.id JOIN inventory_item i ON i.id = k.item_id
  JOIN inventory_storeroom r ON r.id = k.storeroom_id LEFT JOIN inventory_specification s ON s.id = i.specification_id
  LEFT JOIN inventory_bin b ON b.id = k.bin_id LEFT JOIN inventory_stockpiece p ON p.level_id = k.id AND p.links > 0""",
)
"""A row of chain comes once for each of its pieces."""
LEAST_STEP_MM = 1e-6
WIDEST_TOLERANCE_MM = range_of("bore_tolerance_mm")[1]
"""No plant may set a wider one."""
MOST_FETCHED = 100
"""Of what has to be fetched the nearest shelves are looked at, of bushes and chain each so many."""
MOST_ELSEWHERE = 10
"""Keys and links are only named: those at hand, and so many in other storerooms."""


@dataclass(frozen=True)
class ShelfStock:
    """One row of stock of one item. `transfer_minutes` lead to the storeroom of the question; None where not recorded."""

    stock_number: str
    storeroom_id: int
    storeroom: str
    bin: str | None
    condition: str
    on_hand: int
    reserved: int
    available: int
    transfer_minutes: int | None


@dataclass(frozen=True)
class CompanionShelf:
    """An available bush, key, chain or link; chain with its pieces in links without what is reserved, longest first."""

    shelf: ShelfStock
    kind: str
    bush_size: str | None
    bore_mm: float | None
    keyway_width_mm: float | None
    keyway_depth_mm: float | None
    key_height_mm: float | None
    key_standard: KeyStandard | None
    chain_designation: str | None
    strands: int | None
    piece_links: tuple[int, ...]


@dataclass(frozen=True)
class StoreroomTimes:
    """How quickly a storeroom hands out a piece."""

    pk: int
    timezone: str
    pick_minutes: int
    call_out_minutes: int | None


@dataclass(frozen=True)
class StockOnHand:
    """Stock of items, largest quantity first; the available companions; the storerooms in which any of it lies."""

    of_items: Mapping[int, tuple[ShelfStock, ...]]
    companions: tuple[CompanionShelf, ...]
    storerooms: tuple[StoreroomTimes, ...]
    other_bores: tuple[BushAtHand, ...] = ()
    """Of bushes of which none has the bore that is needed."""

    def of_item(self, item_id: int) -> tuple[ShelfStock, ...]:
        return self.of_items.get(item_id, ())

    def of_kind(self, *kinds: str) -> list[CompanionShelf]:
        return [row for row in self.companions if row.kind in kinds]

    def bushes(self, size: str, bore_mm: float, limits: Thresholds) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.BUSH)
            if (row.bush_size or "").upper() == size.upper()
            and row.bore_mm is not None
            and limits.is_same_size(row.bore_mm, bore_mm)
        ]

    def keys(self, width_mm: float, limits: Thresholds) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.KEY)
            if row.keyway_width_mm is not None and limits.is_same_size(row.keyway_width_mm, width_mm)
        ]

    def chains(self, designation: str, strands: int) -> list[CompanionShelf]:
        return _of_chain(self.of_kind(PartKind.CHAIN), designation, strands)

    def links(self, designation: str, strands: int) -> list[CompanionShelf]:
        return _of_chain(self.of_kind(PartKind.JOINING_LINK, PartKind.CRANKED_LINK), designation, strands)

    def bushes_at_hand(self) -> BushesAtHand:
        """The available bushes as values of the core."""
        return BushesAtHand(
            self.other_bores
            + tuple(
                BushAtHand(
                    size=row.bush_size or "",
                    bore_mm=row.bore_mm,
                    keyway_width_mm=row.keyway_width_mm,
                    keyway_depth_mm=row.keyway_depth_mm,
                    key_standard=row.key_standard,
                    available=row.shelf.available,
                )
                for row in self.of_kind(PartKind.BUSH)
                if row.bore_mm is not None
            )
        )


def _of_chain(rows: list[CompanionShelf], designation: str, strands: int) -> list[CompanionShelf]:
    return [row for row in rows if row.chain_designation == designation and row.strands == strands]


@dataclass(frozen=True)
class CompanionNeeds:
    """What goes with the sprockets of an answer; the shelves are searched for these sizes alone.

    Of the bushes of `bare_sizes` none has the bore, so that all bores of that size are named.
    """

    bush_sizes: frozenset[str] = frozenset()
    bush_bore_mm: float | None = None
    bare_sizes: frozenset[str] = frozenset()
    key_width_mm: float | None = None
    chain: Engagement | None = None
    strands: int | None = None

    @classmethod
    def of(cls, required: Requirement, items: Iterable[Item], bushes: BushesAtHand) -> "CompanionNeeds":
        """`bushes` are those with the bore that the shaft asks for."""
        shaft, sizes = required.shaft, bush_sizes_of(items)
        is_keyed = shaft is not None and shaft.kind is ShaftKind.KEYED
        bore_mm = None if shaft is None else shaft.diameter_mm
        has_bore = sizes & {bush.size.upper() for bush in bushes.bushes}
        return cls(
            bush_sizes=sizes if bore_mm is None else has_bore,
            bush_bore_mm=bore_mm,
            bare_sizes=frozenset() if bore_mm is None else sizes - has_bore,
            key_width_mm=keyseat_for(shaft).width_mm if shaft is not None and is_keyed else None,
            chain=required.chain,
            strands=required.strands,
        )

    def searches(self, put: Parameters, limits: Thresholds) -> Iterator["_Search"]:
        """One for each kind, so that each keeps the index that serves it."""
        if self.bush_sizes:
            sizes = f"UPPER(s.bush_size) IN {put.put_all(sorted(self.bush_sizes))}"
            bore_mm = self.bush_bore_mm
            bore = "" if bore_mm is None else f" AND {_near('s.bore_mm', bore_mm, put, limits)}"
            yield _Search(
                (PartKind.BUSH,), sizes + bore, most_nearest=None if bore_mm is None else MOST_FETCHED
            )
        if self.key_width_mm is not None:
            width = _near("s.keyway_width_mm", self.key_width_mm, put, limits)
            yield _Search((PartKind.KEY,), width, most_elsewhere=MOST_ELSEWHERE)
        if self.chain is not None and self.chain.designation and self.strands is not None:
            chain = (
                f"s.kind <> 'sprocket' AND s.chain_designation = {put.put(self.chain.designation)} "
                f"AND s.strands = {put.put(self.strands)}"
            )
            yield _Search((PartKind.CHAIN,), chain, most_nearest=MOST_FETCHED)
            links = (PartKind.JOINING_LINK, PartKind.CRANKED_LINK)
            yield _Search(links, chain, most_elsewhere=MOST_ELSEWHERE)


@dataclass(frozen=True)
class _Search:
    """Available parts of some kinds: all, the nearest shelves, or all at hand and some elsewhere."""

    kinds: tuple[PartKind, ...]
    condition: str
    most_nearest: int | None = None
    most_elsewhere: int | None = None

    @property
    def _of_kind(self) -> str:
        """Written out, so that the index of that kind alone may serve."""
        names = [f"'{kind.value}'" for kind in self.kinds]
        return f"s.kind = {names[0]}" if len(names) == 1 else f"s.kind IN ({', '.join(names)})"

    def parts(self, put: Parameters, minutes: str, rooms: Iterable[int]) -> Iterator[str]:
        found = (
            f"SELECT k.id, 1 AS is_companion, k.storeroom_id, {minutes} AS minutes "
            f"FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id "
            f"JOIN inventory_stocklevel k ON k.item_id = i.id AND {available_sql(put)} "
            f"WHERE {self._of_kind} AND {self.condition}"
        )
        if self.most_elsewhere is not None:
            at_hand = put.put_all(sorted(rooms))
            yield f"{found} AND k.storeroom_id IN {at_hand}"
            elsewhere = f" AND k.storeroom_id NOT IN {at_hand}" if rooms else ""
            yield f"SELECT * FROM ({found}{elsewhere} LIMIT {self.most_elsewhere}) elsewhere"
        elif self.most_nearest is not None:
            order = "ORDER BY minutes NULLS LAST, k.id"
            yield f"SELECT * FROM ({found} {order} LIMIT {self.most_nearest}) nearest"
        else:
            yield found


def way_minutes_sql(room: int | None, put: Parameters) -> str:
    """The minutes from a shelf `k` to a storeroom; looked up for each shelf, however many ways lead there."""
    if room is None:
        return "CAST(NULL AS integer)"
    here = put.put(room)
    return (
        f"CASE WHEN k.storeroom_id = {here} THEN 0 ELSE (SELECT w.minutes FROM inventory_transfertime w "
        f"WHERE w.from_storeroom_id = k.storeroom_id AND w.to_storeroom_id = {here}) END"
    )


def available_sql(put: Parameters) -> str:
    """That the shelf `k` is visible and has something that may be issued."""
    conditions = put.put_all(map(str, AVAILABLE_CONDITIONS))
    return f"k.condition IN {conditions} AND k.on_hand > k.reserved{put.in_scope('k.storeroom_id')}"


def _near(column: str, size_mm: float, put: Parameters, limits: Thresholds) -> str:
    """A little wider than the tolerance: the core compares what comes back."""
    span = limits.bore_tolerance_mm + LEAST_STEP_MM
    return f"{column} BETWEEN {put.put(size_mm - span)} AND {put.put(size_mm + span)}"


KEYWAY = keyway_sql("s.keyway_width_mm", "s.keyway_depth_mm", "s.key_standard")
OF_SIZE = "FROM inventory_specification s WHERE s.kind = 'bush' AND UPPER(s.bush_size)"
# From each kind of bush the index leads to the next, however many bushes of a kind there are; of each the first on a shelf is enough.
BUSHES = f"""FROM (
  WITH RECURSIVE size(name) AS (
    SELECT (SELECT MIN(UPPER(s.bush_size)) {OF_SIZE} >= '')
    UNION ALL SELECT (SELECT MIN(UPPER(s.bush_size)) {OF_SIZE} > size.name) FROM size WHERE name IS NOT NULL
  ), bore(size, mm) AS (
    SELECT name, (SELECT MIN(s.bore_mm) {OF_SIZE} = size.name AND s.bore_mm BETWEEN {{least}} AND {{most}})
    FROM size WHERE name IS NOT NULL
    UNION ALL SELECT size, (SELECT MIN(s.bore_mm) {OF_SIZE} = bore.size AND s.bore_mm > bore.mm AND s.bore_mm <= {{most}})
    FROM bore WHERE mm IS NOT NULL
  ), bush(size, bore_mm, keyway) AS (
    SELECT size, mm, (SELECT MIN({KEYWAY}) {OF_SIZE} = bore.size AND s.bore_mm = bore.mm) FROM bore WHERE mm IS NOT NULL
    UNION ALL SELECT size, bore_mm, (
      SELECT MIN({KEYWAY}) {OF_SIZE} = bush.size AND s.bore_mm = bush.bore_mm AND {KEYWAY} > bush.keyway)
    FROM bush WHERE keyway IS NOT NULL
  ) SELECT * FROM bush
) bush WHERE (
  SELECT k.id FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id
  JOIN inventory_stocklevel k ON k.item_id = i.id AND {{available}}
  WHERE s.kind = 'bush' AND UPPER(s.bush_size) = bush.size AND s.bore_mm = bush.bore_mm AND {KEYWAY} = bush.keyway LIMIT 1
) IS NOT NULL"""


def bushes_question(required: Requirement, put: Parameters) -> Question:
    """Each kind of bush at hand with about the bore of a round shaft."""
    shaft, source = required.shaft, "FROM (SELECT '' AS size, 0 AS bore_mm, '' AS keyway) bush WHERE 1 = 0"
    if shaft is not None and shaft.diameter_mm is not None:
        least, most = (
            put.put(shaft.diameter_mm + one) for one in (-WIDEST_TOLERANCE_MM, WIDEST_TOLERANCE_MM)
        )
        source = BUSHES.format(least=least, most=most, available=available_sql(put))
    return Question(("bush.size", "bush.bore_mm", "bush.keyway"), source)


def bushes_of(rows: Iterable[Row], required: Requirement, limits: Thresholds) -> BushesAtHand:
    """Of the rows of `bushes_question`, those with the very bore."""
    shaft_mm = required.shaft.diameter_mm if required.shaft is not None else None
    found = []
    for size, bore_mm, keyway in rows:
        if shaft_mm is not None and limits.is_same_size(bore_mm, shaft_mm):
            width_mm, depth_mm, standard = keyway.split(" ", 2)
            found.append(
                BushAtHand(
                    size=size,
                    bore_mm=float(bore_mm),
                    keyway_width_mm=float(width_mm) if width_mm else None,
                    keyway_depth_mm=float(depth_mm) if depth_mm else None,
                    key_standard=word_or_none(KeyStandard, standard),
                )
            )
    return BushesAtHand(tuple(found))


def bush_sizes_of(items: Iterable[Item]) -> frozenset[str]:
    parts = (item.specification for item in items)
    return frozenset(part.bush_size.upper() for part in parts if part is not None and part.bush_size)


@dataclass(frozen=True)
class StockQuestions:
    """What `stock_of` reads: `beginning` finds the shelves, which `questions` and further ones of its kind look at."""

    parameters: Parameters
    beginning: str
    questions: Mapping[str, Question]


def stock_questions(
    item_ids: Iterable[int],
    *needs: CompanionNeeds,
    limits: Thresholds,
    to_storeroom_id: int | None = None,
    at_hand: Iterable[int | None] = (),
) -> StockQuestions:
    """Stock of the items and of what goes with them; `at_hand` are the storerooms in which keys and links are looked for."""
    put = Parameters()
    minutes = way_minutes_sql(to_storeroom_id, put)
    rooms = {room for room in (to_storeroom_id, *at_hand) if room is not None}
    own = (
        f"SELECT k.id, 0 AS is_companion, k.storeroom_id, {minutes} AS minutes FROM inventory_stocklevel k "
        f"WHERE k.item_id IN {put.put_all(item_ids)} AND k.on_hand > 0{put.in_scope('k.storeroom_id')}"
    )
    searches = [one for need in needs for one in need.searches(put, limits)]
    companions = [part for one in searches for part in one.parts(put, minutes, rooms)]
    beginning = f"WITH lying AS MATERIALIZED ({' UNION ALL '.join((own, *companions))})"
    questions = {"shelves": SHELVES}
    bare_sizes = {size for need in needs for size in need.bare_sizes}
    if bare_sizes:
        questions["bores"] = Question(
            ("UPPER(s.bush_size)", "s.bore_mm"),
            "FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id "
            f"JOIN inventory_stocklevel k ON k.item_id = i.id AND {available_sql(put)} WHERE s.kind = 'bush' "
            f"AND UPPER(s.bush_size) IN {put.put_all(sorted(bare_sizes))} AND s.bore_mm IS NOT NULL "
            "GROUP BY UPPER(s.bush_size), s.bore_mm",
        )
    return StockQuestions(put, beginning, questions)


def load_stock(
    item_ids: Iterable[int],
    *needs: CompanionNeeds,
    limits: Thresholds,
    to_storeroom_id: int | None = None,
) -> StockOnHand:
    """Stock of the items and of what goes with them; one query."""
    asked = stock_questions(item_ids, *needs, limits=limits, to_storeroom_id=to_storeroom_id)
    return stock_of(answers(StockLevel, asked.parameters, asked.questions, beginning=asked.beginning))


def load_stock_of_items(item_ids: Iterable[int], *, to_storeroom_id: int | None = None) -> StockOnHand:
    """Stock of the items alone; one query."""
    return load_stock(item_ids, limits=Thresholds(), to_storeroom_id=to_storeroom_id)


def stock_of(rows: Mapping[str, list[Row]]) -> StockOnHand:
    """Of the rows of `stock_questions`."""
    levels: dict[int, dict[str, Any]] = {}
    links: dict[int, list[int]] = defaultdict(list)
    found = (dict(zip(LEVEL_COLUMNS, row, strict=True)) for row in rows["shelves"])
    for row in sorted(found, key=lambda one: (one["stock_number"], one["storeroom_id"], one["condition"])):
        levels.setdefault(row["pk"], row)
        if row["links"] is not None:
            links[row["pk"]].append(row["links"])
    of_items: dict[int, list[ShelfStock]] = defaultdict(list)
    for row in levels.values():
        if not row["is_companion"]:
            of_items[row["item_id"]].append(_shelf_of(row))
    return StockOnHand(
        of_items={
            item: tuple(sorted(shelves, key=lambda shelf: -shelf.on_hand))
            for item, shelves in of_items.items()
        },
        companions=tuple(
            _companion_of(row, links[row["pk"]]) for row in levels.values() if row["is_companion"]
        ),
        storerooms=tuple({row["storeroom_id"]: _storeroom_of(row) for row in levels.values()}.values()),
        other_bores=tuple(
            BushAtHand(size=size, bore_mm=float(bore_mm)) for size, bore_mm in rows.get("bores", ())
        ),
    )


def _shelf_of(row: dict[str, Any]) -> ShelfStock:
    return ShelfStock(
        stock_number=row["stock_number"],
        storeroom_id=row["storeroom_id"],
        storeroom=row["storeroom_code"],
        bin=row["bin_code"],
        condition=row["condition"],
        on_hand=row["on_hand"],
        reserved=row["reserved"],
        available=row["on_hand"] - row["reserved"] if row["condition"] in AVAILABLE_CONDITIONS else 0,
        transfer_minutes=row["transfer_minutes"],
    )


def _companion_of(row: dict[str, Any], links: list[int]) -> CompanionShelf:
    part = _part_of({name: row[name] for name in PART_COLUMNS})
    free = sorted((left for left in pieces_left(links, row["reserved"]) if left), reverse=True)
    return CompanionShelf(shelf=_shelf_of(row), **part, piece_links=tuple(free))


def _storeroom_of(row: dict[str, Any]) -> StoreroomTimes:
    return StoreroomTimes(row["storeroom_id"], row["timezone"], row["pick_minutes"], row["call_out_minutes"])


def _part_of(columns: Mapping[str, Any]) -> dict[str, Any]:
    """As the core has them: SQLite gives back a whole length without its decimals."""
    known = {name: core_value(name, value) for name, value in columns.items()}
    return {
        name: float(one) if name.endswith("_mm") and one is not None else one for name, one in known.items()
    }
