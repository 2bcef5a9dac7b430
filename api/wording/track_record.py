"""How long candidates lasted, here or at positions alike."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from api.wording.figures import Sentence, Shown, ShownNumber

SHARE_TOLERANCE = 0.1


def _where(values: Mapping[str, Shown]) -> str:
    return _("here") if values["is_here"] else _("at positions of the same chain, teeth and role")


def _lives(lives: Shown, median_hours: Shown) -> str:
    text = ngettext("{lives} life", "{lives} lives", lives)
    if median_hours:
        text = ngettext(
            "{lives} life of {median:,.0f} h", "{lives} lives with a median of {median:,.0f} h", lives
        )
    return text.format(lives=lives, median=median_hours)


def _usual(values: Mapping[str, Shown]) -> str:
    text = _("This part is usually fitted {where}: {lives}.")
    if not values["median_hours"]:
        text = _("This part is usually fitted {where}: {lives}; most of them have not ended yet.")
    return text.format(where=_where(values), lives=_lives(values["lives"], values["median_hours"]))


def _own(values: Mapping[str, Shown]) -> str:
    lives = _lives(values["lives"], values.get("median_hours"))
    return (
        _("{lives} (fitted for a limited time only)").format(lives=lives) if values["is_temporary"] else lives
    )


def _without_usual(values: Mapping[str, Shown]) -> str:
    text = _("Too few lives to compare: {lives} {where} and none of the usual part.")
    return text.format(lives=_own(values), where=_where(values))


def _too_few(values: Mapping[str, Shown]) -> str:
    text = _(
        "Too few lives to compare: {lives} {where} against {against_lives} of {against}; {least_lives} of each, "
        "{least_together} together and one that ended are needed."
    )
    return text.format(
        lives=_own(values),
        where=_where(values),
        against_lives=_lives(values["against_lives"], None),
        against=values["against"],
        least_lives=values["least_lives"],
        least_together=values["least_together"],
    )


def _all_shorter(values: Mapping[str, Shown]) -> str:
    text = _(
        "Every life {where} was shorter than any of {against}: {own} against {others}. That is too few to compare."
    )
    others = _lives(values["against_lives"], values["against_median_hours"])
    return text.format_map({**values, "where": _where(values), "own": _own(values), "others": others})


def _alike(values: Mapping[str, Shown]) -> str:
    text = _("No difference to {against} is shown {where}: {comparison}.")
    return text.format(against=values["against"], where=_where(values), comparison=_comparison(values))


def _different(values: Mapping[str, Shown]) -> str:
    text = _("It lasted {ratio} {against} {where}: {comparison}.")
    return text.format(
        ratio=_ratio(values), against=values["against"], where=_where(values), comparison=_comparison(values)
    )


def _comparison(values: Mapping[str, Shown]) -> str:
    text = _("{own} against {against}, p = {p_value:.2g} (log-rank)")
    if values["method"] == "exact_permutation":
        text = _("{own} against {against}, p = {p_value:.2g} (exact permutation, {ways:,} ways)")
    against = _lives(values["against_lives"], values["against_median_hours"])
    return text.format(own=_own(values), against=against, p_value=values["p_value"], ways=values["ways"])


def _ratio(values: Mapping[str, Shown]) -> str:
    """The ratio of the medians where both are known; a common fraction where it is near one."""
    own, against = values["median_hours"], values["against_median_hours"]
    if not own or not against:
        return _("shorter than") if values["is_shorter"] else _("longer than")
    ratio = ShownNumber(own / against)
    shares = {0.25: _("a quarter"), 1 / 3: _("a third"), 0.5: _("half"), 2 / 3: _("two thirds")}
    for share, word in shares.items():
        if abs(ratio / share - 1) <= SHARE_TOLERANCE:
            return _("{share} as long as").format(share=word)
    return _("{ratio:.2g} times as long as").format(ratio=ratio)


def _shorter(values: Mapping[str, Shown]) -> str:
    return " ".join((_different({**values, "is_shorter": True}), _by_chance(values["comparisons"])))


def _by_chance(comparisons: Shown) -> str:
    text = ngettext(
        "Where all last alike, one place in ten has such a caution by chance.",
        "With the {comparisons} comparisons made here, where all last alike, one place in ten has such a caution by chance.",
        comparisons,
    )
    return text.format(comparisons=comparisons)


def _longer(values: Mapping[str, Shown]) -> str:
    return _different({**values, "is_shorter": False})


def _outlasted(values: Mapping[str, Shown]) -> str:
    text = _("{item} lasted shorter at these positions than {against}: {own} against {others}.")
    if values["p_value"]:
        text = _(
            "{item} lasted shorter at these positions than {against}: {own} against {others}, p = {p_value:.2g}."
        )
    own = _lives(values["lives"], values["median_hours"])
    others = _lives(values["against_lives"], values["against_median_hours"])
    return (
        text.format_map({**values, "own": own, "others": others}) + " " + _("It is not the number to keep.")
    )


SENTENCES: dict[str, Sentence] = {
    "number_outlasted": _outlasted,
    "usual_part_lives": _usual,
    "lives_without_usual_part": _without_usual,
    "lives_too_few_to_compare": _too_few,
    "lives_all_shorter": _all_shorter,
    "lives_alike": _alike,
    "lives_shorter": _shorter,
    "lives_longer": _longer,
}
