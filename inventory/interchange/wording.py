"""Numbers as a fitter reads them."""

from inventory.standards.sizes import inch_text


def size_text(mm: float | None) -> str:
    """A length in mm, with its inch fraction where it is one: `25 mm`, `1 15/16 in (49.2125 mm)`."""
    if mm is None:
        return "not recorded"
    inches = inch_text(mm)
    return f"{inches} ({mm:g} mm)" if inches else f"{mm:g} mm"
