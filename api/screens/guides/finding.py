"""What a reader asks for, found among titled texts by the words that few of them have."""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from math import log

WORD = re.compile(r"[\w./-]*\w")
ENDINGS = ("ing", "en", "er", "ed", "es", "e", "n", "s")
SHORTEST_STEM = 4
SHORTEST_BEGINNING = 4
"""Letters of a word that others may begin with: `port` finds `ports`, but `do` no `downgrade`."""
SHORTEST_INSIDE = 5
"""Letters of a word that is looked for inside others too: `passwort` in `Benutzerpasswort`, but no `port` in `import`."""
INSIDE_COUNTS = 0.5
TITLE_COUNTS = 2
LONG = 4_000
"""Characters of a text from which a word in it tells only half: a long table has some of everything."""
NEARLY_AS_GOOD = 0.6
"""Of the score of the best; beside them stands what has every word. Judged by ten questions of three readers."""


@dataclass(frozen=True)
class FoundTexts:
    """`places` of the texts, the best first."""

    places: list[int]
    have_every_word: bool


def folded(text: str) -> str:
    """In one case, and without the dots and accents of letters: `Passwort` is found in `Passwörter`."""
    return "".join(
        one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one)
    )


def words_of(asked: str) -> set[str]:
    return {stem(word) for word in WORD.findall(folded(asked))}


def stem(word: str) -> str:
    """Without its ending, as far as a box of help needs it: `backups` and `backup`, `restoring` and `restore`."""
    for ending in ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= SHORTEST_STEM:
            return word.removesuffix(ending)
    return word


def presence(word: str, text: str) -> float:
    """Whole where it is a word of the text or begins one, less where it stands inside one."""
    end = "" if len(word) >= SHORTEST_BEGINNING else r"(?!\w)"
    if re.search(rf"(?<!\w){re.escape(word)}{end}", text):
        return 1
    return INSIDE_COUNTS if len(word) >= SHORTEST_INSIDE and word in text else 0


def find_texts(asked: str, texts: Sequence[tuple[str, str]]) -> FoundTexts:
    """`texts`: title and body of each."""
    words = words_of(asked)
    known = [(folded(title), folded(body)) for title, body in texts]
    in_titles = {word: [presence(word, title) for title, _ in known] for word in words}
    in_bodies = {word: [presence(word, body) for _, body in known] for word in words}
    having = {word: [*map(any, zip(in_titles[word], in_bodies[word], strict=True))] for word in words}
    # A word that nearly every text has tells nothing: questions need no list of words to be passed over.
    weights = {word: log((len(texts) + 1) / (sum(has) + 1)) for word, has in having.items()}
    scores = [
        sum(
            weights[word]
            * max(TITLE_COUNTS * in_titles[word][place], in_bodies[word][place] * LONG / (LONG + len(body)))
            for word in words
        )
        for place, (_, body) in enumerate(known)
    ]
    best = sorted((place for place, score in enumerate(scores) if score > 0), key=lambda one: -scores[one])
    whole = {place for place in best if all(has[place] for has in having.values())}
    nearly = {place for place in best if scores[place] >= NEARLY_AS_GOOD * scores[best[0]]}
    return FoundTexts([place for place in best if place in whole | nearly], bool(whole))
