"""What the levels come to, and how they stand against those in force, in sentences."""

from inventory.planning.case import Case
from inventory.planning.facts import Levels
from inventory.planning.figures import Figures
from inventory.planning.terms import START_VALUE
from inventory.planning.words import amount, figure, how_often, levels_words, runs_out


def lead_time_words(case: Case) -> tuple[str, ...]:
    lead_time = case.lead_time
    if lead_time is None:
        return ()
    spread = f", give or take {figure(lead_time.sd_days)}" if lead_time.sd_days else ""
    words = f"From order to shelf it takes {figure(lead_time.mean_days)} days{spread}."
    return (f"{words} {lead_time.sentence}",)


def outcome(case: Case, levels: Levels, figures: Figures | None) -> tuple[str, ...]:
    if figures is None:
        return ()
    sentences = [f"With that it {_service(levels, figures)}{_money(case, figures)}."]
    if case.terms.are_start_values and figures.holding_cost_per_year:
        share = figure(100 * case.terms.holding_rate_per_year)
        sentences.append(f"A piece kept is taken to cost {share} % of its price a year ({START_VALUE}).")
    if case.need.planned_per_year > 0:
        planned = figure(case.need.planned_per_year)
        sentences.append(
            f"Beside it {planned} a year are planned: reserved for their jobs, they are ordered on top."
        )
    return tuple(sentences)


def _service(levels: Levels, figures: Figures) -> str:
    short = figures.expected_stockouts_per_year / figures.pieces_per_job
    if not levels.stocked:
        return f"is bought when it is asked for, {how_often(short)}"
    return f"{runs_out(short)}, {_percent(figures.fill_rate)} is there when asked for"


def _percent(share: float) -> str:
    """Never rounded up to all of it."""
    percent = min(round(100 * share, 2), 99.99) if share < 1 else 100.0
    return f"{percent:g} %"


def _money(case: Case, figures: Figures) -> str:
    if figures.tied_up is None:
        return "; what it ties up is not known, as unit_cost is missing"
    if figures.holding_cost_per_year is None or not figures.tied_up:
        return ""
    currency = case.facts.currency
    held = amount(figures.holding_cost_per_year, currency)
    return f", ties up {amount(figures.tied_up, currency)} on average and costs {held} a year to keep"


def against_today(
    case: Case, levels: Levels, figures: Figures | None, figures_today: Figures | None
) -> tuple[str, ...]:
    today = case.today
    if today is None:
        return ("Nothing is set today.",)
    if today == levels:
        return ("That is what is set today.",)
    if figures is None or figures_today is None:
        return (f"Today is set: {levels_words(today)}.",)
    sentence = f"Today is set: {levels_words(today)}; with that it {_service(today, figures_today)}"
    return (f"{sentence}{_difference(case, figures, figures_today)}.",)


def _difference(case: Case, figures: Figures, figures_today: Figures) -> str:
    if figures.tied_up is None or figures_today.tied_up is None:
        return ""
    more = figures.tied_up - figures_today.tied_up
    if not more:
        return ""
    words = "ties up" if more > 0 else "frees"
    return f"; the change {words} {amount(abs(more), case.facts.currency)}"
