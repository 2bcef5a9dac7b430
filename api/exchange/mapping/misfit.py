"""What a reading raises where a cell cannot be meant so."""


class Misfit(ValueError):  # noqa: N818 - says what it is
    """The cell has no value by this reading."""
