"""What came out: levels with their reasons, or the stated lack of an answer."""

from dataclasses import dataclass

from inventory.planning.facts import Levels

REVIEW_DAYS = 365
"""Levels are looked at again after a year: start value, no source."""

REVIEW_NONE_DAYS = 180
"""A part that is not kept is looked at again sooner: start value, no source."""

REVIEW_UNANSWERED_DAYS = 30
"""What could not be answered is looked at again within a month: start value, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """`levels` is None where no answer can be given; then today's stay."""

    levels: Levels | None
    stock_at_all: tuple[str, ...]
    how_many: tuple[str, ...] = ()
    review_after_days: int = REVIEW_DAYS
    buys_none: bool = False
    """The part ends or goes on under another number: not even a missing one is bought."""


def unanswered(*sentences: str) -> Decision:
    return Decision(
        levels=None,
        stock_at_all=(*sentences, "Until then what is set today stays."),
        review_after_days=REVIEW_UNANSWERED_DAYS,
    )
