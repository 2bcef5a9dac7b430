"""The items worth judging for a requirement, first those that could be best, in one statement: the core judges only what it gives.

What stands behind may be left unjudged once enough of what stands before is as good as it could be.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, cached_property
from typing import Any

from django.db import connections, router
from django.db.models import Model

from inventory.catalogue.bound_conditions import JudgeOne
from inventory.catalogue.candidates import place_of
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
"""Judged beyond what is wanted, as a few are worse than they could be."""
BATCHES = 4
"""So many times as many are read as are judged at first: they are judged where too many were worse than they could be."""
SOONEST = 8
"""So many of the soonest that could fit are judged first, whatever their place."""
HERE, UNKNOWN_WAY, ON_NO_SHELF = -1, 1_000_000, 2
"""In place of the minutes to the storeroom that asks: the item lies there; the way is not recorded."""
IN_CODE_ORDER = {"postgresql": 'COLLATE "C"', "sqlite": "COLLATE BINARY"}
"""Stock numbers in the order in which Python compares them."""
ALL_KINDS = {
    "postgresql": "string_agg(class || ' ' || items, ',')",
    "sqlite": "group_concat(class || ' ' || items, ',')",
}
# PostgreSQL thinks that a third of the specifications could fit, and would rather read all items than look up those of a few.
ITEMS_OF_RANKED = {
    "postgresql": "CROSS JOIN LATERAL (SELECT {columns} FROM inventory_specification s JOIN inventory_item i "
    "ON i.specification_id = s.id AND i.merged_into_id IS NULL WHERE s.id = ranked.specification OFFSET 0) found",
    # SQLite makes a filter of all items where one condition is of the item alone.
    "sqlite": "CROSS JOIN (SELECT s.id AS specification, i.merged_into_id, {columns} FROM inventory_specification s "
    "JOIN inventory_item i ON i.specification_id = s.id) found ON found.specification = ranked.specification "
    "AND (found.merged_into_id IS NULL OR ranked.items < 0)",
}

# Each of `ranked`, `near` and `placed` is worked out once: PostgreSQL would look up the way at each mention of it. Items, their
# work and the ways to the shelves are looked up for what could fit, and beside it only for as many of the unfit as the page can
# show; the others are counted by their specifications. That is what keeps a large group cheap. A merged number is no item of its own.
STATEMENT = """
WITH ranked AS MATERIALIZED (
  SELECT s.id AS specification, {class_sql} AS class,
    (SELECT COUNT(*) FROM inventory_item i WHERE i.specification_id = s.id AND i.merged_into_id IS NULL){other_than} AS items
  FROM inventory_specification s WHERE {cases}
), near AS MATERIALIZED (
  SELECT found.item, found.stock_number, found.unit_cost, found.minutes, ranked.class, (
      SELECT MIN(CASE WHEN k.storeroom_id = {room} THEN {here} ELSE COALESCE((
          SELECT w.minutes FROM inventory_transfertime w
          WHERE w.from_storeroom_id = k.storeroom_id AND w.to_storeroom_id = {room}), {unknown_way}) END)
      FROM inventory_stocklevel k
      WHERE k.item_id = found.item AND k.condition IN {conditions} AND k.on_hand > k.reserved{scope}
    ) AS way FROM ranked {items_of_ranked} WHERE {looked_up}
), placed AS MATERIALIZED (
  SELECT near.*, CASE WHEN way = {here} THEN 0 WHEN way IS NULL THEN {on_no_shelf} ELSE 1 END AS nearness,
    CASE WHEN class >= {unfit} THEN 0 ELSE minutes END AS least_minutes
  FROM near WHERE {wanted}
), best AS (
  SELECT 1 AS is_placed, placed.* FROM placed
  ORDER BY class, nearness, least_minutes, unit_cost IS NULL, unit_cost, stock_number {in_code_order} LIMIT {size}
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
SELECT counted.kinds, counted.on_shelves, counted.unknown_parts, chosen.is_placed, chosen.class, chosen.nearness,
  chosen.least_minutes, chosen.unit_cost, chosen.stock_number, {columns}
FROM (SELECT (SELECT {all_kinds} FROM (SELECT class, {items} AS items FROM {counted} GROUP BY class) kind) AS kinds,
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
    AND (i.merged_into_id IS NULL OR s.id < 0)
  WHERE ({cases}) AND s.teeth IN {counts} AND {class_sql} < {most_class} AND EXISTS (
    SELECT 1 FROM inventory_stocklevel k WHERE k.item_id = i.id AND {available})
)
SELECT free.item, {columns} FROM free LEFT JOIN inventory_item i ON i.id = free.item AND free.place <= {most}
LEFT JOIN inventory_specification s ON s.id = i.specification_id
"""
BOUND_COLUMNS = 9
MOST_UNKNOWN_COUNTED = 50
UNKNOWN_PARTS = f"""SELECT COUNT(*) FROM (
  SELECT 1 FROM inventory_specification s JOIN inventory_item i ON i.specification_id = s.id
    AND (i.merged_into_id IS NULL OR s.id < 0)
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
    may_rank_higher: int = 0
    """Of the lower ranked and the unfit: could be among the best, where too many of those judged were worse than they could be."""

    @property
    def total(self) -> int:
        return self.lower_ranked + self.certainly_unfit + self.unknown_parts


@dataclass(frozen=True)
class ShortlistedItem:
    """An item with the first part of its bound; no verdict on it comes before it in `grade_order`."""

    class_: int
    nearness: int
    least_minutes: int
    is_placed: bool
    unit_cost: Decimal | None
    stock_number: str
    columns: tuple[Any, ...]
    alias: str

    @cached_property
    def item(self) -> Item:
        return _item_of(self.columns, self.alias)

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
        guess, departures = divmod(self.class_ % GRADE_STEP, GUESS_STEP)
        return place_of(
            grade_rank=self.best_rank,
            is_guess=bool(guess),
            departures=departures,
            nearness=self.nearness,
            minutes=self.least_minutes,
            cost=self.unit_cost,
            stock_number=self.stock_number,
        )


@dataclass(frozen=True)
class Shortlisted:
    """What the database chose of all that could engage, the best of it in order, and how many there are of each class."""

    placed: list[ShortlistedItem]
    others: list[ShortlistedItem]
    items_of_class: Mapping[int, int]
    on_shelves: int
    unknown_parts: int
    has_all_that_could_fit: bool

    def not_judged(self, judged: Iterable[ShortlistedItem], *, best_class: int = -1) -> NotJudged:
        """`best_class`: those that were not judged and could be of this class or a better one may rank higher."""
        rows = list(judged)
        left = Counter(self.items_of_class)
        left.subtract(Counter(row.class_ for row in rows))
        return NotJudged(
            lower_ranked=sum(count for one, count in left.items() if one < UNFIT_CLASS),
            certainly_unfit=sum(count for one, count in left.items() if one >= UNFIT_CLASS),
            unknown_parts=min(self.unknown_parts, MOST_UNKNOWN_COUNTED),
            more_unknown_parts=self.unknown_parts > MOST_UNKNOWN_COUNTED,
            lower_ranked_available=self.on_shelves
            - sum(row.is_available for row in rows if not row.is_unfit),
            may_rank_higher=sum(count for one, count in left.items() if one <= best_class),
        )


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
    ruled: tuple[int, ...] = ()
    """Specifications that are looked at whatever their chain and teeth: a rule is about their items."""
    refused: int = 0
    """So many that do not fit, the nearest to a fit first, are among those judged first beside those that could."""

    def read(self, first: int) -> Shortlisted:
        """One query: so many places of the order and some behind them, with the soonest and the named."""
        alias = router.db_for_read(Item)
        sql, parameters = self.statement(first, connections[alias].vendor)
        with connections[alias].cursor() as cursor:
            cursor.execute(sql, parameters)
            rows = cursor.fetchall()
        found = [
            ShortlistedItem(
                class_=row[4],
                nearness=row[5],
                least_minutes=row[6],
                is_placed=bool(row[3]),
                unit_cost=_cost_of(row[7]),
                stock_number=row[8],
                columns=row[BOUND_COLUMNS:],
                alias=alias,
            )
            for row in rows
            if row[3] is not None
        ]
        kinds = (pair.split() for pair in (rows[0][0] or "").split(",") if pair)
        return Shortlisted(
            placed=sorted((row for row in found if row.is_placed), key=lambda row: row.bound),
            others=[row for row in found if not row.is_placed],
            items_of_class={int(one): int(items) for one, items in kinds},
            on_shelves=rows[0][1],
            unknown_parts=rows[0][2],
            has_all_that_could_fit=sum(bool(row[3]) for row in rows) < BATCHES * first,
        )

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

    def statement(self, first: int, vendor: str) -> tuple[str, Parameters]:
        put = Parameters()
        bound = GradeBound(self.required, self.practice, self.judge, self.teeth, put, self.bushes)
        is_known = self.required.chain is not None and self.teeth is not None
        columns = f"i.id AS item, i.stock_number, i.unit_cost, {bound.minutes_sql} AS minutes"
        other_than, which = "", self._looked_up(first, put)
        if self.other_than is not None:
            other = put.put(self.other_than)
            own = (
                "(SELECT other.specification_id FROM inventory_item other "
                f"WHERE other.id = {other} AND other.merged_into_id IS NULL)"
            )
            other_than = f" - CASE WHEN s.id = {own} THEN 1 ELSE 0 END"
            # As above: no condition of the item alone.
            which = f"({which}) AND (found.item <> {other} OR ranked.items < 0)"
        sql = STATEMENT.format(
            class_sql=bound.class_sql,
            items_of_ranked=ITEMS_OF_RANKED[vendor].format(columns=columns),
            cases=self._cases(put),
            other_than=other_than,
            here=HERE,
            on_no_shelf=ON_NO_SHELF,
            unfit=UNFIT_CLASS,
            room="NULL" if self.here_id is None else put.put(self.here_id),
            unknown_way=UNKNOWN_WAY,
            conditions=put.put_all(map(str, AVAILABLE_CONDITIONS)),
            scope=put.in_scope("k.storeroom_id"),
            looked_up=which,
            wanted="way IS NOT NULL" if self.only_available else "1 = 1",
            in_code_order=IN_CODE_ORDER[vendor],
            all_kinds=ALL_KINDS[vendor],
            size=BATCHES * first,
            soonest=SOONEST,
            refused=self.refused,
            named=put.put_all(self.named or ("",)),
            columns=_columns(),
            items="COUNT(*)" if self.only_available else "SUM(items)",
            counted="placed" if self.only_available else "ranked",
            unknown_parts=UNKNOWN_PARTS if is_known else "SELECT 0",
        )
        return sql, put

    def _looked_up(self, first: int, put: Parameters) -> str:
        """All that could fit, and of the others the classes that the page reaches."""
        if self.only_available:
            return "1 = 1"
        edges = [f"FROM ranked WHERE items > 0 ORDER BY class LIMIT 1 OFFSET {first - 1}"]
        if self.refused:
            unfit = f"FROM ranked WHERE items > 0 AND class >= {UNFIT_CLASS}"
            edges.append(f"{unfit} ORDER BY class LIMIT 1 OFFSET {self.refused - 1}")
        read = f"SELECT class FROM ranked WHERE items > 0 ORDER BY class LIMIT 1 OFFSET {BATCHES * first}"
        found = [f"class < {UNFIT_CLASS}", f"class < COALESCE(({read}), {UNFIT_CLASS * 2})"]
        found += [f"class <= COALESCE((SELECT class {edge}), {UNFIT_CLASS * 2})" for edge in edges]
        if self.named:
            named = f"SELECT n.specification_id FROM inventory_item n WHERE n.stock_number IN {put.put_all(self.named)}"
            found.append(f"ranked.specification IN ({named})")
        return " OR ".join(found)

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
        if self.ruled:
            cases.append(f"{kind} s.id IN {put.put_all(self.ruled)}")
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


def _cost_of(value: Any) -> Decimal | None:
    """SQLite keeps a whole amount without its decimals."""
    return value if value is None or isinstance(value, Decimal) else Decimal(str(value))


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
