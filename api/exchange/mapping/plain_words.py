"""Words as they are compared: no capitals, accents, dots or dashes; `Zähne`, `Zaehne` and `ZAHNE` are one."""

import re
import unicodedata
from functools import cache

TWO_LETTERS = (("ae", "a"), ("oe", "o"), ("ue", "u"), ("ß", "ss"))
SIGNS = "€£$%✓✔"


@cache
def plain(text: str) -> str:
    lowered = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(c for c in lowered if not unicodedata.combining(c))
    for written, kept in TWO_LETTERS:
        letters = letters.replace(written, kept)
    return " ".join(re.sub(rf"[^\w{SIGNS}]+|_", " ", letters).split()) or letters.strip()
