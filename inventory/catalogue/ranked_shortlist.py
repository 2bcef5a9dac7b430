"""The items worth judging for a requirement, first those that could be best, in one statement: the core judges only what it gives.

What stands behind may be left unjudged once enough of what stands before is as good as it could be.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db import connections, router
from django.db.models import Model

from inventory.catalogue.bound_conditions import JudgeOne
from inventory.catalogue.grade_bound import GRADE_STEP, GUESS_STEP, UNFIT_CLASS, GradeBound
from inventory.catalogue.shortlist import ToothRange, pitch_ranges
from inventory.catalogue.stock_on_hand import available_sql
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.requirement import Requirement
from inventory.interchange.thresholds import Practice
from inventory.models import Item, Specification
from inventory.models.stock import AVAILABLE_CONDITIONS
from inventory.plumbing.joint_statement import Parameters

SPARE = 8
"""Judged beyond what is wanted in the first batch, as a few are worse than they could be."""
SOONEST = 8
"""So many of the soonest that could fit are in the first batch, whatever their place."""
HERE, UNKNOWN_WAY, ON_NO_SHELF = -1, 1_000_000, 2
"""In place of the minutes to the storeroom that asks: the item lies there; the way is not recorded."""
MOST_JUDGED = 600
"""Of those that are certainly unfit no more are looked at; what could fit is judged until enough is found."""
IN_CODE_ORDER = {"postgresql": 'COLLATE "C"', "sqlite": "COLLATE BINARY"}
"""Stock numbers in the order in which Python compares them."""

# Each of `listed`, `near` and `placed` is worked out once: PostgreSQL would look up the way at each mention of it. The ways to the shelves are looked up for what could fit, and beside it only for
# as many of the unfit as the page can show: that is what keeps a large group cheap.
STATEMENT = """
WITH listed AS MATERIALIZED (
  SELECT i.id AS item, i.stock_number, i.unit_cost, {class_sql} AS class, {minutes_sql} AS minutes
  FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id
  WHERE ({cases}){other_than}
), near AS MATERIALIZED (
  SELECT listed.*, (
      SELECT MIN(CASE WHEN k.storeroom_id = {room} THEN {here} ELSE COALESCE((
          SELECT w.minutes FROM inventory_transfertime w
          WHERE w.from_storeroom_id = k.storeroom_id AND w.to_storeroom_id = {room}), {unknown_way}) END)
      FROM inventory_stocklevel k
      WHERE k.item_id = listed.item AND k.condition IN {conditions} AND k.on_hand > k.reserved{scope}
    ) AS way FROM listed WHERE {looked_up}
), placed AS MATERIALIZED (
  SELECT near.*, CASE WHEN way = {here} THEN 0 WHEN way IS NULL THEN {on_no_shelf} ELSE 1 END AS nearness,
    CASE WHEN class >= {unfit} THEN 0 ELSE minutes END AS least_minutes
  FROM near WHERE {wanted}
), best AS (
  SELECT 1 AS is_placed, placed.* FROM placed
  ORDER BY class, nearness, least_minutes, unit_cost IS NULL, unit_cost, stock_number {in_code_order}
  LIMIT {size} OFFSET {first}
), soonest AS (
  SELECT 0 AS is_placed, placed.* FROM placed WHERE class < {unfit} AND way IS NOT NULL
  ORDER BY way, class, stock_number {in_code_order} LIMIT {soonest}
), refused AS (
  SELECT 0 AS is_placed, placed.* FROM placed WHERE class >= {unfit}
  ORDER BY class, nearness, stock_number {in_code_order} LIMIT {refused}
), named AS (
  SELECT 0 AS is_placed, placed.* FROM placed WHERE stock_number IN {named}
), chosen AS (
  SELECT * FROM best UNION ALL SELECT * FROM soonest UNION ALL SELECT * FROM refused UNION ALL SELECT * FROM named
)
SELECT counted.every, counted.unfit, counted.on_shelves, counted.unknown_parts, chosen.is_placed, chosen.class, chosen.nearness,
  chosen.least_minutes, {columns}
FROM (SELECT (SELECT COUNT(*) FROM {counted}) AS every,
    (SELECT COUNT(*) FROM {counted} WHERE class >= {unfit}) AS unfit,
    (SELECT COUNT(*) FROM placed WHERE class < {unfit} AND way IS NOT NULL) AS on_shelves, ({unknown_parts}) AS unknown_parts) counted
LEFT JOIN chosen ON 1 = 1 LEFT JOIN inventory_item i ON i.id = chosen.item
LEFT JOIN inventory_specification s ON s.id = i.specification_id
"""
OF_EACH_COUNT = """
WITH free AS MATERIALIZED (
  SELECT i.id AS item, ROW_NUMBER() OVER (
    PARTITION BY s.teeth ORDER BY {class_sql}, {minutes_sql}, i.stock_number {in_code_order}
  ) AS place
  FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id
  WHERE ({cases}) AND s.teeth IN {counts} AND {class_sql} < {most_class} AND EXISTS (
    SELECT 1 FROM inventory_stocklevel k WHERE k.item_id = i.id AND {available})
)
SELECT free.item, {columns} FROM free LEFT JOIN inventory_item i ON i.id = free.item AND free.place <= {most}
LEFT JOIN inventory_specification s ON s.id = i.specification_id
"""
COUNTS, BOUND_COLUMNS = 4, 8
MOST_UNKNOWN_COUNTED = 50
UNKNOWN_PARTS = f"""SELECT COUNT(*) FROM (
  SELECT 1 FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id
  WHERE s.kind = 'sprocket' AND s.pitch_mm IS NULL AND s.teeth IS NULL LIMIT {MOST_UNKNOWN_COUNTED + 1}) unknown"""
"""Such a part could be anything, so it is counted and not judged: all that a plant has are no matter of one position."""


@dataclass(frozen=True)
class NotJudged:
    """What was not judged: it could be no better than what is shown, it is unfit for certain, or nothing is known of it."""

    lower_ranked: int = 0
    certainly_unfit: int = 0
    unknown_parts: int = 0
    more_unknown_parts: bool = False
    """Than were counted."""
    lower_ranked_available: int = 0
    """Of the lower ranked: one may be ready before what was judged."""

    @property
    def total(self) -> int:
        return self.lower_ranked + self.certainly_unfit + self.unknown_parts


@dataclass(frozen=True)
class ShortlistedItem:
    """An item with the first part of its bound; no verdict on it comes before it in `grade_order`."""

    item: Item
    class_: int
    nearness: int
    least_minutes: int
    is_placed: bool

    @property
    def best_rank(self) -> int:
        return self.class_ // GRADE_STEP

    @property
    def is_unfit(self) -> bool:
        return self.class_ >= UNFIT_CLASS

    @property
    def is_available(self) -> bool:
        return self.nearness < ON_NO_SHELF

    @property
    def bound(self) -> tuple[object, ...]:
        """As `grade_order` has it."""
        guess, refusals = divmod(self.class_ % GRADE_STEP, GUESS_STEP)
        cost = self.item.unit_cost
        return (
            *(self.best_rank, bool(guess), refusals, False, self.nearness, False, self.least_minutes),
            *(cost is None, cost or 0, self.item.stock_number),
        )


@dataclass(frozen=True)
class ShortlistBatch:
    """Items to judge, what is not judged after them, and the best that any of those could be; None where none is left."""

    items: list[Item]
    not_judged: NotJudged
    bound: tuple[object, ...] | None = None


@dataclass(frozen=True, kw_only=True)
class Shortlist:
    """`judge` is the core's, with the bushes at hand; `here_id` is the storeroom that asks."""

    required: Requirement
    teeth: ToothRange
    practice: Practice
    judge: JudgeOne
    bushes: BushesAtHand | None = None
    here_id: int | None = None
    only_available: bool = False
    other_than: int | None = None
    named: tuple[str, ...] = ()
    refused: int = 0
    """So many that do not fit, the nearest to a fit first, are in the first batch beside those that could."""

    def batches(self, count: int) -> Iterator[ShortlistBatch]:
        """The first holds a few more than are wanted, with the soonest and the named; each is then as long as all before it."""
        first, size = 0, count + SPARE
        known: dict[int, ShortlistedItem] = {}
        while True:
            rows, (every, unfit, on_shelves, unknown) = self.rows(first, size)
            placed = sorted((row for row in rows if row.is_placed), key=lambda row: row.bound)
            others = [row for row in rows if not row.is_placed]
            new = {row.item.pk: row for row in (*others, *placed) if row.item.pk not in known}
            known |= new
            is_last = len(placed) < size or first + size >= every
            seen_unfit = sum(row.is_unfit for row in known.values())
            left = NotJudged(
                every - len(known) - (unfit - seen_unfit),
                unfit - seen_unfit,
                min(unknown, MOST_UNKNOWN_COUNTED),
                unknown > MOST_UNKNOWN_COUNTED,
                on_shelves - sum(row.is_available for row in known.values() if not row.is_unfit),
            )
            items = [row.item for row in new.values()]
            yield ShortlistBatch(items, left, None if is_last else placed[-1].bound)
            if is_last or (placed[-1].is_unfit and first + size >= MOST_JUDGED):
                return
            first, size = first + size, first + size

    def rows(self, first: int, size: int) -> tuple[list[ShortlistedItem], tuple[int, int, int, int]]:
        """Some places of the order, and how many there are, are unfit, are on a shelf and could fit, and of how many nothing is known."""
        alias = router.db_for_read(Item)
        vendor = connections[alias].vendor
        sql, parameters = self.statement(first, size, vendor)
        with connections[alias].cursor() as cursor:
            cursor.execute(sql, parameters)
            rows = cursor.fetchall()
        found = [
            ShortlistedItem(_item_of(row[BOUND_COLUMNS:], alias), row[5], row[6], row[7], bool(row[4]))
            for row in rows
            if row[4] is not None
        ]
        return found, rows[0][:COUNTS]

    def best_of_each_count(self, counts: Iterable[int], most: int) -> tuple[list[Item], set[int]]:
        """The available ones that could fit, so many of each tooth count, by stock number; and the ids of the others."""
        alias, put = router.db_for_read(Item), Parameters()
        bound = GradeBound(self.required, self.practice, self.judge, None, put, self.bushes)
        sql = OF_EACH_COUNT.format(
            class_sql=bound.class_sql,
            minutes_sql=bound.minutes_sql,
            in_code_order=IN_CODE_ORDER[connections[alias].vendor],
            cases=self._cases(put),
            counts=put.put_all(sorted(counts)),
            most_class=UNFIT_CLASS,
            available=available_sql(put),
            most=most,
            columns=_columns(),
        )
        with connections[alias].cursor() as cursor:
            cursor.execute(sql, put)
            rows = cursor.fetchall()
        items = [_item_of(row[1:], alias) for row in rows if row[1] is not None]
        others = {row[0] for row in rows if row[1] is None}
        return sorted(items, key=lambda item: item.stock_number), others

    def statement(self, first: int, size: int, vendor: str) -> tuple[str, Parameters]:
        put = Parameters()
        bound = GradeBound(self.required, self.practice, self.judge, self.teeth, put, self.bushes)
        named = put.put_all(self.named or ("",))
        edge = f"(SELECT class FROM listed ORDER BY class LIMIT 1 OFFSET {first + size - 1})"
        looked_up = f"class < {UNFIT_CLASS} OR class <= COALESCE({edge}, {UNFIT_CLASS * 2}) OR stock_number IN {named}"
        refused = 0 if first else self.refused
        if refused:
            unfit = f"FROM listed WHERE class >= {UNFIT_CLASS} ORDER BY class LIMIT 1 OFFSET {refused - 1}"
            looked_up += f" OR class <= COALESCE((SELECT class {unfit}), {UNFIT_CLASS * 2})"
        is_known = self.required.chain is not None and self.teeth is not None
        sql = STATEMENT.format(
            class_sql=bound.class_sql,
            minutes_sql=bound.minutes_sql,
            cases=self._cases(put),
            other_than="" if self.other_than is None else f" AND i.id <> {put.put(self.other_than)}",
            here=HERE,
            on_no_shelf=ON_NO_SHELF,
            unfit=UNFIT_CLASS,
            room="NULL" if self.here_id is None else put.put(self.here_id),
            unknown_way=UNKNOWN_WAY,
            conditions=put.put_all(map(str, AVAILABLE_CONDITIONS)),
            scope=put.in_scope("k.storeroom_id"),
            looked_up="1 = 1" if self.only_available else looked_up,
            wanted="way IS NOT NULL" if self.only_available else "1 = 1",
            in_code_order=IN_CODE_ORDER[vendor],
            size=size,
            first=first,
            soonest=0 if first else SOONEST,
            refused=refused,
            named=put.put_all(("",)) if first else named,
            columns=_columns(),
            counted="placed" if self.only_available else "listed",
            unknown_parts=UNKNOWN_PARTS if is_known else "SELECT 0",
        )
        return sql, put

    def _cases(self, put: Parameters) -> str:
        """Pitch and count are right, or one of them is not known: each case whole, so that each finds its rows by the index."""
        kind, count, pitches = "s.kind = 'sprocket' AND", "", []
        if self.required.chain is not None:
            ranges = pitch_ranges(self.required, self.practice)
            pitches = [f"s.pitch_mm BETWEEN {put.put(least)} AND {put.put(most)}" for least, most in ranges]
        if self.teeth is not None:
            count = f"s.teeth BETWEEN {put.put(self.teeth[0])} AND {put.put(self.teeth[1])}"
        if pitches and count:
            cases = [f"{kind} {one} AND {rest}" for one in pitches for rest in (count, "s.teeth IS NULL")]
            cases.append(f"{kind} s.pitch_mm IS NULL AND {count}")
        elif pitches:
            cases = [*(f"{kind} {one}" for one in pitches), f"{kind} s.pitch_mm IS NULL"]
        else:
            cases = [f"{kind} {one}" for one in ((count, "s.teeth IS NULL") if count else ("1 = 1",))]
        return " OR ".join(f"({one})" for one in cases)


@cache
def _fields(model: type[Model]) -> tuple[Any, ...]:
    return tuple(model._meta.concrete_fields)


@cache
def _columns() -> str:
    return ", ".join(
        f"{alias}.{field.column}"
        for alias, model in (("i", Item), ("s", Specification))
        for field in _fields(model)
    )


@cache
def _names(model: type[Model]) -> list[str]:
    return [field.attname for field in _fields(model)]


@cache
def _converters(alias: str) -> Mapping[int, tuple[Any, list[Any]]]:
    """By column: what the ORM does to a value of the database; most need nothing."""
    found, connection = {}, connections[alias]
    for at, field in enumerate((*_fields(Item), *_fields(Specification))):
        column = field.get_col(field.model._meta.db_table)
        own = [*connection.ops.get_db_converters(column), *column.get_db_converters(connection)]
        if own:
            found[at] = (column, own)
    return found


def _item_of(row: tuple[Any, ...], alias: str) -> Item:
    """The record with its specification, as `with_specification` gives it."""
    values = list(row)
    for at, (column, converters) in _converters(alias).items():
        for convert in converters:
            values[at] = convert(values[at], column, connections[alias])
    names, part_names = _names(Item), _names(Specification)
    item = Item.from_db(alias, names, values[: len(names)])
    item.specification = Specification.from_db(alias, part_names, values[len(names) :])
    return item
