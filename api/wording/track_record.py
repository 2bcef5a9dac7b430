"""How long candidates lasted, here or at positions alike."""

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, ngettext_lazy

from api.wording.figures import Sentence, Shown, ShownNumber, counted, filled

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


def _against(values: Mapping[str, Shown]) -> str:
    return _lives(values["against_lives"], values["against_median_hours"])


def _comparison(values: Mapping[str, Shown]) -> str:
    text = _("{own} against {against}, p = {p_value:.2g} (log-rank)")
    if values["method"] == "exact_permutation":
        text = _("{own} against {against}, p = {p_value:.2g} (exact permutation, {ways:,} ways)")
    return text.format(
        own=_own(values), against=_against(values), p_value=values["p_value"], ways=values["ways"]
    )


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


DIFFERENT = filled(
    gettext_lazy("It lasted {ratio} {against} {where}: {comparison}."),
    ratio=_ratio,
    where=_where,
    comparison=_comparison,
)
BY_CHANCE = counted(
    ngettext_lazy(
        "Where all last alike, one place in ten has such a caution by chance.",
        "With the {comparisons} comparisons made here, where all last alike, one place in ten has such a caution by chance.",
        "comparisons",
    ),
    "comparisons",
)


def _outlasted(values: Mapping[str, Shown]) -> str:
    text = _("{item} lasted shorter at these positions than {against}: {own} against {others}.")
    if values["p_value"]:
        text = _(
            "{item} lasted shorter at these positions than {against}: {own} against {others}, p = {p_value:.2g}."
        )
    own = _lives(values["lives"], values["median_hours"])
    shown = text.format_map({**values, "own": own, "others": _against(values)})
    return shown + " " + _("It is not the number to keep.")


SENTENCES: dict[str, Sentence] = {
    "number_outlasted": _outlasted,
    "usual_part_lives": _usual,
    "lives_without_usual_part": filled(
        gettext_lazy("Too few lives to compare: {lives} {where} and none of the usual part."),
        lives=_own,
        where=_where,
    ),
    "lives_too_few_to_compare": filled(
        gettext_lazy(
            "Too few lives to compare: {lives} {where} against {against_lives} of {against}; {least_lives} of each, "
            "{least_together} together and one that ended are needed."
        ),
        lives=_own,
        where=_where,
        against_lives=lambda values: _lives(values["against_lives"], None),
    ),
    "lives_all_shorter": filled(
        gettext_lazy(
            "Every life {where} was shorter than any of {against}: {own} against {others}. That is too few to compare."
        ),
        where=_where,
        own=_own,
        others=_against,
    ),
    "lives_alike": filled(
        gettext_lazy("No difference to {against} is shown {where}: {comparison}."),
        where=_where,
        comparison=_comparison,
    ),
    "lives_shorter": lambda values: f"{DIFFERENT({**values, 'is_shorter': True})} {BY_CHANCE(values)}",
    "lives_longer": lambda values: DIFFERENT({**values, "is_shorter": False}),
}
