"""Words of the vocabulary as they stand alone on a page: in a table, beside a sign, in a list of choices."""

from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from api.wording.vocabulary import word_of
from drives.place.item_rules import RuleKind
from inventory.interchange.vocabulary import Aspect, Grade

GRADES = {
    Grade.DROP_IN: (_("Drop-in"), _("fits as it is, with hand tools")),
    Grade.WITH_WORK: (_("With work"), _("fits after the work listed")),
    Grade.NEEDS_REVIEW: (_("Needs review"), _("would run, but an engineer must approve what it changes")),
    Grade.UNFIT: (_("Does not fit"), _("will not run, or must not be used")),
}
ASPECTS = {
    Aspect.CHAIN: _("Chain"),
    Aspect.STRANDS: _("Strands"),
    Aspect.TEETH: _("Teeth"),
    Aspect.MOUNTING: _("Bore and shaft"),
    Aspect.KEY: _("Key and keyway"),
    Aspect.HUB: _("Hub and length"),
    Aspect.ENVELOPE: _("Space"),
    Aspect.MATERIAL: _("Material"),
    Aspect.TOOTH_HARDNESS: _("Tooth hardness"),
    Aspect.RATING: _("Chain rating"),
    Aspect.CHAIN_WEAR: _("Chain wear"),
    Aspect.DUTY: _("Duty"),
    Aspect.RULE: _("Rule"),
}
RULE_KINDS = {RuleKind.REPLACES.value: _("replaces"), RuleKind.NEVER.value: _("never serves")}
LABELS: dict[str, Promise] = {
    # Hub style and bore
    "A": _("A, no hub"),
    "B": _("B, hub on one side"),
    "C": _("C, hub on both sides"),
    "plain": _("plain"),
    "pin": _("plain pin"),
    "finished": _("finished to size"),
    "tapered": _("for a taper bush"),
    "qd": _("for a QD bushing"),
    # Outcome of a check
    "ok": pgettext_lazy("outcome of a check", "passes"),
    "work": pgettext_lazy("outcome of a check", "needs work"),
    "review": pgettext_lazy("outcome of a check", "needs review"),
    "no": pgettext_lazy("outcome of a check", "does not fit"),
    # Grade
    "drop_in": _("drop-in"),
    "with_work": _("with work"),
    "needs_review": _("needs review"),
    "unfit": _("does not fit"),
    # Others
    "stream": _("oil stream"),
    "copied_from_fitted": _("copied from the part fitted"),
    "stated": _("stated by an engineer or a drawing"),
}
IMPORT_OUTCOMES = {
    "created": pgettext_lazy("rows of a file", "created"),
    "updated": pgettext_lazy("rows of a file", "updated"),
    "unchanged": pgettext_lazy("rows of a file", "unchanged"),
    "waiting": pgettext_lazy("rows of a file", "waiting"),
    "rejected": pgettext_lazy("rows of a file", "rejected"),
}
IMPORTANCES = {
    "vital": _("Vital"),
    "essential": _("Essential"),
    "desirable": _("Desirable"),
    "unknown": _("Not classified"),
}
DEMAND_MODELS = {
    "weibull_renewal": _("ages of the units"),
    "gamma_poisson": _("number of requests"),
    "intermittent": _("monthly demand"),
    "none": _("no demand"),
}
DEMAND_SOURCES = {
    "request": _("request"),
    "issue": _("issued without a request"),
    "removal": _("unit replaced, no request and no issue"),
}
DEMAND_RESULTS = {
    "filled": _("filled"),
    "filled_by_substitute": _("filled by a substitute"),
    "partly": _("partly filled"),
    "not_filled": _("not filled"),
    "not_stocked": _("not stocked"),
    "": _("not recorded"),
}
LIFE_RESULTS = {
    "running": _("still running"),
    "worn_out": _("worn out: counts as a failure"),
    "sudden": _("sudden failure, not wear"),
    "censored": _("removed for another reason"),
    "left_out": _("left out: hours not known"),
}
TARGETS = {
    "fill_rate": _("of the demand is met from stock"),
    "cycle_service_level": _("of lead times without a shortage"),
    "no_backorder": _("of the time without open requests"),
}
UNITS = {"each": _("pieces"), "link": _("links")}
STANDINGS = {
    "right": _("as ordered"),
    "wrong": _("something else"),
    "undecided": _("undecided, on hold"),
}
BACKTEST_VERDICTS = {
    "kept": pgettext_lazy("promise", "kept"),
    "missed": pgettext_lazy("promise", "missed"),
    "exceeded": pgettext_lazy("promise", "more than promised"),
}


def label(value: object) -> str:
    """A word of the vocabulary; one without an entry is written with spaces.

    >>> label("on_hold")
    'on hold'
    """
    text = value.value if isinstance(value, StrEnum) else str(value or "")
    return str(LABELS[text]) if text in LABELS else word_of(text)
