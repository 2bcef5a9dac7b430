"""What a check of a part found, where its text is not made from values yet."""

from api.wording.figures import Sentence

SENTENCES: dict[str, Sentence] = {
    "text": "{text}",
}
