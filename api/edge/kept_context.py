"""What is read while an answer is being sent, when its request is over."""

from collections.abc import Iterator
from contextvars import copy_context
from typing import TypeVar

from api.edge.reading import read_from_primary

Row = TypeVar("Row")


def in_context_of_request(rows: Iterator[Row]) -> Iterator[Row]:
    """Each is read as the caller of now, within his scope, in his language and zone; and from the primary, which nothing breaks off."""
    context = copy_context()
    context.run(read_from_primary)

    def read() -> Iterator[Row]:
        while True:
            try:
                row = context.run(next, rows)
            except StopIteration:
                return
            yield row

    return read()
