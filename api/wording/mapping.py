"""What is asked, and what is said, about a file with headings of its own."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from api.wording.figures import Sentence, counted, filled
from api.wording.labels import label
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


def _words(values: Values) -> str:
    reading = str(values["reading"])
    names = [reading] if reading in READINGS else reading.split()
    return ", ".join(str(READINGS.get(name, name)) for name in names)


SENTENCES: dict[str, Sentence] = {
    "which_column_is_meant": _("Which column is '{heading}'?"),
    "leave_heading_out": _("leave it out"),
    "which_reading_is_meant": _("How are the cells of '{heading}' meant?"),
    "reading_of_cells": filled(_("with {words}"), words=_words),
    "which_word_is_meant": _("'{heading}': what does '{word}' mean (rows: {count:d})?"),
    "leave_cell_empty": _("leave the cell empty"),
    "word_of_column": filled("{label}", label=lambda values: label(values["word"])),
    "no_heading_gives_column": _("No heading gives {column}. What is it in each row?"),
    "chain_without_strands": _(
        "'{heading}' says no number of strands in {count:d} rows. How many are meant?"
    ),
    "strands_of_chain": counted(ngettext_lazy("{count:d} strand", "{count:d} strands", "count"), "count"),
    "made_from_content": _("made from the content of each row"),
    "cell_under_heading": _("the cell under '{heading}'"),
    "made_from_cells": _("{example} (made from {text})"),
    "only_one_taken": _("{column} is {code} in all rows, as there is no other."),
    "name_made_from": _("The name is the cell under '{heading}', as no heading gives one."),
    "time_of_receipt": _("the time at which the file is read"),
    "which_zone_is_meant": _("By the clock of which time zone are the times of this file?"),
    "column_read_as": filled(_("'{heading}' was read with: {words}."), words=_words),
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
    "source_not_known": _(
        "Nothing is known of {kind:rows} of the source '{source}': send a sample at /feeds/ and answer its questions first."
    ),
    "omission_not_possible": _("'{answer}' cannot be said of {kind:rows} that are not in the list any more."),
    "omission_without_numbers": _(
        "A record of the list has no number, so nothing was concluded from what the list leaves out."
    ),
    "too_many_omitted": _(
        "{count:d} of {of:d} open records are not in the list: nothing was concluded, as the list is rather cut off."
    ),
    "omitted_settled": _("Not in the list any more, so {word:words}: {count:d}."),
    "answer_not_known": _("'{answer}' is no answer to '{key}': it must be one of {allowed}."),
    "answers_not_readable": _(
        "The answers cannot be read: a JSON object with a text for each question is expected."
    ),
}
