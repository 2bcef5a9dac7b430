from typing import Any


def add_examples(document: Any) -> None:
    return None
