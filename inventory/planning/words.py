"""Figures as a manager reads them aloud."""

from decimal import ROUND_HALF_UP, Decimal

from inventory.planning.facts import Levels

LARGEST_MONEY = Decimal("999999999999.99")
"""The columns of money hold no more."""

RAREST_SHOWN = 1e-3
"""Shortages rarer than this [a year] are not put into years: no demand is known that well."""


def figure(value: float) -> str:
    """Two or three digits that matter, without an exponent.

    >>> figure(0.12345), figure(7.0), figure(1234.5)
    ('0.123', '7', '1,230')
    """
    return f"{float(f'{value:.3g}'):,.10g}"


def money(value: float | Decimal) -> Decimal:
    """An amount, rounded once; a ValueError where it is more than can be kept."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(value))
    if exact > LARGEST_MONEY:
        raise ValueError(f"`unit_cost` and the stock come to more money than is kept, {exact:.3g}")
    return exact.quantize(Decimal("0.01"), ROUND_HALF_UP)


def amount(value: Decimal, currency: str) -> str:
    """Whole units from ten up.

    >>> amount(Decimal("340.20"), "EUR"), amount(Decimal("7.20"), "EUR")
    ('340 EUR', '7.20 EUR')
    """
    whole = abs(value) >= 10
    return f"{value:,.0f} {currency}" if whole else f"{value:,.2f} {currency}"


def runs_out(times_per_year: float) -> str:
    """How often something is asked for that is not there."""
    return f"runs out {how_often(times_per_year)}" if times_per_year > 0 else "is not expected to run out"


def how_often(times_per_year: float) -> str:
    """As it is said.

    >>> how_often(0.11), how_often(1.2), how_often(3)
    ('about once in 9.1 years', 'about once a year', 'about 3 times a year')
    """
    if times_per_year < RAREST_SHOWN:
        return f"less than once in {1 / RAREST_SHOWN:,.0f} years"
    if times_per_year <= 1 / 1.5:
        return f"about once in {float(f'{1 / times_per_year:.2g}'):,.10g} years"
    if times_per_year < 1.5:
        return "about once a year"
    return f"about {float(f'{times_per_year:.2g}'):,.10g} times a year"


def levels_words(levels: Levels) -> str:
    if not levels.stocked:
        return "hold none"
    return (
        f"order when on hand + on order - reserved has fallen to {levels.reorder_point},"
        f" up to {levels.order_up_to}"
    )


def short_levels(levels: Levels | None) -> str:
    """As in a list: `order at 1 up to 3`, `none`."""
    if levels is None:
        return "nothing set"
    return f"order at {levels.reorder_point} up to {levels.order_up_to}" if levels.stocked else "none held"


def listed(words: tuple[str, ...]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)
