"""An explanation of a word or figure of the pages."""

from typing import NamedTuple

from django.utils.functional import Promise


class Term(NamedTuple):
    """`name` is its place on the page of help."""

    name: str
    words: str | Promise
    meaning: str | Promise
    basis: str | Promise = ""
    """How it is calculated, in which unit and from when."""
    act: str | Promise = ""
    """What to do about it."""
