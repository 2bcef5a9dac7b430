"""Numbers with the separators of the reader's language."""

from django.utils import formats


def localized(text: str) -> str:
    """1,234.5 with the separators of the current language.

    >>> localized("1,234.5")
    '1,234.5'
    """
    point, thousands = formats.get_format("DECIMAL_SEPARATOR"), formats.get_format("THOUSAND_SEPARATOR")
    if point == ".":
        return text
    return text.replace(",", "\0").replace(".", point).replace("\0", thousands)
