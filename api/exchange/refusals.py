"""How a file is refused: always in a sentence that says what to do."""


class FileRefused(Exception):  # noqa: N818 - reads as what happened
    """The file as a whole cannot be taken; nothing of it is written."""

    def __init__(self, *sentences: str) -> None:
        super().__init__(" ".join(sentences))
        self.sentences = list(sentences)
