"""What is asked, and what is said, about a file with headings of its own."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.wording.figures import Sentence
from api.wording.phrases import Values

READINGS: Mapping[str, Promise] = {
    "dmy": _("day before month"),
    "mdy": _("month before day"),
    "point": _("decimal point"),
    "comma": _("decimal comma"),
    "mm": _("millimetres"),
    "in": _("inches"),
    "cm": _("centimetres"),
    "m": _("metres"),
    "as_written": _("the numbers are complete"),
    "leading_zeros_lost": _("zeros at the beginning are missing: I correct the file"),
}
BASES: Mapping[str, Promise] = {
    "answered": _("your answer"),
    "name": _("name of the column"),
    "trade": _("word of the trade"),
    "part": _("part of a name"),
    "none": _("not recognized"),
}


def reading_words(reading: str) -> str:
    return ", ".join(
        str(READINGS.get(word, word)) for word in ([reading] if reading in READINGS else reading.split())
    )


def _reading(values: Values) -> str:
    return reading_words(str(values["reading"]))


def _read_as(values: Values) -> str:
    return str(_("'{heading}' was read with: {words}.")).format(
        heading=values["heading"], words=reading_words(str(values["reading"]))
    )


SENTENCES: dict[str, Sentence] = {
    "which_column_is_meant": _("Which column is '{heading}'?"),
    "leave_heading_out": _("leave it out"),
    "which_reading_is_meant": _("How are the cells of '{heading}' meant?"),
    "reading_of_cells": _reading,
    "which_word_is_meant": _("'{heading}': what does '{word}' mean ({count:d} rows)?"),
    "leave_cell_empty": _("leave the cell empty"),
    "no_heading_gives_column": _(
        "No heading gives {column}. Which text holds for all rows? {{Heading}} stands for the cell under that heading."
    ),
    "made_from_content": _("made from the content of each row"),
    "cell_under_heading": _("the cell under '{heading}'"),
    "time_of_receipt": _("the time at which the file is read"),
    "which_zone_is_meant": _("By the clock of which time zone are the times of this file?"),
    "column_read_as": _read_as,
    "headings_left_out": _("Left out: {headings}."),
    "rows_above_headings": _("Rows above the headings that were left out: {count:d}."),
    "totals_left_out": _("Rows of totals that were left out: {count:d} (lines {lines})."),
    "repeated_headings_left_out": _("Repeated headings that were left out: {count:d} (lines {lines})."),
    "titles_left_out": _("Rows with a title alone that were left out: {count:d} (lines {lines})."),
    "days_read_as_midnight": _("Days without a time, read as 00:00: {count:d}."),
    "records_not_at_path": _(
        "There are no records at '{path}': say where the list of records stands in the document."
    ),
    "zone_of_row_not_known": _(
        "'{cell}' has no time zone, and the row names no known place: state the zone of the source."
    ),
    "local_time_not_clear": _(
        "'{cell}' does not exist or is shown twice in {zone}, where the clocks change: write the time with its offset from UTC."
    ),
    "answer_not_known": _("'{answer}' is no answer to '{key}': it must be one of {allowed}."),
    "answers_not_readable": _(
        "The answers cannot be read: a JSON object with a text for each question is expected."
    ),
}
