"""Texts that the feed writes into records. They are part of the record: they stay as written, in English."""

TEXTS = {
    "installed_by_order": "work order {order}",
    "installed_by_order_item_not_named": "work order {order}, no part named: taken to be the same again",
    "no_longer_in_order": "no longer in work order {order}",
}


def recorded_text(code: str, *, order: str) -> str:
    return TEXTS[code].format(order=order)
