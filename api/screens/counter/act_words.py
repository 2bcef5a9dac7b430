"""An act by its name in the box, typed or scanned: of the item on the page, its form; the first letters are enough."""

import unicodedata
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext as _

from api.screens.counter.acts import may_book_of
from api.screens.counter.forms import ACTS, ReturnForm
from inventory.models.text_index import normal

SHORTEST = 3
SPELLED_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})


@dataclass(frozen=True)
class NamedAct:
    title: str
    address: str


def acts_named(request: HttpRequest) -> list[NamedAct]:
    """Those whose name begins with the text of the box, for the item that the page with the box shows."""
    number, text = request.GET.get("item", "")[:60], normal(request.GET.get("q", "")[:60])
    if not number or len(text) < SHORTEST or not may_book_of(request):
        return []
    # The first is what a return says where nothing else is chosen.
    reasons = list(ReturnForm.base_fields["reason_code"].choices)[1:]  # type: ignore[attr-defined]
    named = [
        *((name, str(form.title), {}) for name, form in ACTS.items()),
        *(
            ("return", _("{reason}: return").format(reason=label), {"reason_code": code})
            for code, label in reasons
        ),
    ]
    then = {"item": number, "then": reverse("screens:item", args=[number])}
    return [
        NamedAct(
            f"{title[:1].upper()}{title[1:]}",
            f"{reverse('screens:act', args=[name])}?{urlencode(then | more)}",
        )
        for name, title, more in named
        if any(one.startswith(text) for one in _spellings(title)) or normal(name) == text
    ]


def _spellings(title: str) -> set[str]:
    """As it is written, and as it is typed where the keyboard has no such letter: Zählen, Zaehlen, Zahlen."""
    letters = unicodedata.normalize("NFD", title)
    bare = "".join(one for one in letters if not unicodedata.combining(one))
    return {normal(one) for one in (title, title.lower().translate(SPELLED_OUT), bare)}
