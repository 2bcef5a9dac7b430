"""What the document says in words, written once: of members, of operations, and the names of vocabularies."""

import csv
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent


def rows_of(name: str) -> list[dict[str, str]]:
    with (HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def members() -> dict[str, str]:
    """By the name of a member, which has one meaning; by `Component.member` where it has another there."""
    return {row["member"]: row["words"] for row in rows_of("members")}


@cache
def summaries() -> dict[tuple[str, str], str]:
    """Of operations whose summary does not follow from the kind of their record, by method and path below /api/v1/."""
    return {(row["method"].lower(), row["path"]): row["summary"] for row in rows_of("operations")}


@cache
def vocabularies() -> dict[str, str]:
    """A place where each vocabulary stands, by its name."""
    return {row["name"]: row["place"] for row in rows_of("enums")}
