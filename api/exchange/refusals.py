"""How a file is refused."""

from inventory.facts import Fact


class FileRefused(Exception):  # noqa: N818 - reads as what happened
    """The file as a whole cannot be taken; nothing of it is written."""

    def __init__(self, *facts: Fact) -> None:
        super().__init__(*facts)
        self.facts = facts
