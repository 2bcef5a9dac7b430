"""Why a file, a row or a cell of an import is refused, and what to do next."""

from collections.abc import Callable

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from api.wording.figures import Sentence
from api.wording.phrases import Values


def with_suggestion(text: Promise | Callable[[Values], str]) -> Sentence:
    """The text, and the known name most like the one given where there is such a name."""

    def sentence(values: Values) -> str:
        written = text(values) if callable(text) else str(text).format_map(values)
        if not values["suggestion"]:
            return written
        return written + " " + _('Did you mean "{suggestion}"?').format_map(values)

    return sentence


def _record_missing(values: Values) -> str:
    text = (
        _("There is no {kind:words} '{name}' in '{place}': import or correct it first.")
        if values["place"]
        else _("There is no {kind:words} '{name}': import or correct it first.")
    )
    return text.format_map(values)


CELLS: dict[str, Sentence] = {
    "cell_empty": gettext_lazy("{column} is empty: it must be given."),
    "column_missing_in_row": gettext_lazy("{column} is missing: it must be given."),
    "cell_is_formula": gettext_lazy(
        "'{cell}' is a formula, which is not computed here: paste its value instead."
    ),
    "cell_not_text": gettext_lazy("'{cell}' is not text: format the column as text and enter it again."),
    "cell_has_control_character": gettext_lazy(
        "The text holds the control character {character}: remove it."
    ),
    "cell_too_long": gettext_lazy(
        "The text has {length:d} characters, at most {most:d} are kept: shorten it."
    ),
    "code_turned_into_date": gettext_lazy(
        "'{cell}' looks like a code that a spreadsheet turned into a date: format the column as text and enter the code again."
    ),
    "code_turned_into_number": gettext_lazy(
        "'{cell}' looks like a code that a spreadsheet turned into a number: format the column as text and enter the code again."
    ),
    "code_mixes_alphabets": gettext_lazy(
        "In '{cell}' the letter {letter} is not the Latin {looks_like} that it looks like: type it again."
    ),
    "code_has_invisible_character": gettext_lazy(
        "'{cell}' holds an invisible character: type the code again."
    ),
    "key_without_address": gettext_lazy(
        "'{cell}' cannot stand in an address: a slash needs a name on both sides, and the last one must not be the end of an "
        "address, such as movements."
    ),
    "code_has_forbidden_character": gettext_lazy("'{cell}' may hold letters, digits, '-' and '_' only."),
    "code_is_number": gettext_lazy(
        "The cell holds the number {cell}, and numbers lose their leading zeros: format the column as text and enter the code "
        "again."
    ),
    "cell_not_number": gettext_lazy("'{cell}' is not a number: use the digits 0 to 9 and a decimal point."),
    "number_too_long": gettext_lazy("'{cell}' is not a number: it has {length:d} characters."),
    "number_ambiguous": gettext_lazy("'{cell}' may be {first} or {second}: write it with a decimal point."),
    "number_ambiguous_beside_commas": gettext_lazy(
        "'{cell}' may be {first} or {second}, as this file writes decimal commas: write it without the point."
    ),
    "number_has_separators": gettext_lazy(
        "'{cell}' has thousands separators: write the number without them."
    ),
    "number_has_exponent": gettext_lazy("'{cell}' has an exponent: write the number out."),
    "number_far_too_large_or_small": gettext_lazy("'{cell}' is far outside the range that is expected here."),
    "number_has_too_many_decimals": gettext_lazy(
        "'{cell}' has more than {decimals:d} decimals: round it as you mean it."
    ),
    "number_out_of_range": gettext_lazy("'{cell}' must be from {least:.14g} to {greatest:.14g}."),
    "number_not_whole": gettext_lazy("'{cell}' must be a whole number."),
    "size_not_clear": gettext_lazy("'{cell}' is not one clear size: write it as '1 15/16 in' or in mm."),
    "length_perhaps_in_inches": gettext_lazy(
        "{number:.12g} mm {dimension:words}: inches? Write '{number:.12g} in' ({inches_in_mm:.12g} mm), or '{number:.12g} mm' if it "
        "is meant so."
    ),
    "length_perhaps_in_another_unit": gettext_lazy(
        "{number:.12g} mm {dimension:words}: another unit? Write '{number:.12g} mm' if it is meant so."
    ),
    "word_not_in_list": with_suggestion(gettext_lazy("'{cell}' must be one of {allowed}.")),
    "cell_not_true_or_false": gettext_lazy("'{cell}' must be true or false (yes or no)."),
    "cell_without_offset": gettext_lazy(
        "'{cell}' has no offset from UTC: enter it as text, such as {day}T06:30:00+01:00."
    ),
    "cell_not_moment": gettext_lazy(
        "'{cell}' is not a date and time of the calendar with an offset, such as 2026-03-01T06:30:00+01:00."
    ),
    "cell_not_date": gettext_lazy("'{cell}' is not a date written year-month-day, such as 2026-03-01."),
    "date_not_in_calendar": gettext_lazy("'{cell}' is not a day in the calendar."),
    "year_out_of_range": gettext_lazy("'{cell}' must lie in the years {least:d} to {greatest:d}."),
    "cell_is_duration": gettext_lazy("'{cell}' is a duration: write the hour, such as 06:30."),
    "cell_not_time": gettext_lazy("'{cell}' is not a time of the day, such as 06:30."),
    "cell_not_time_zone": gettext_lazy(
        "'{cell}' is not a time zone: write one such as Europe/Vienna or UTC."
    ),
    "cell_not_currency": gettext_lazy("'{cell}' is not a currency of three capital letters, such as EUR."),
}

ROWS: dict[str, Sentence] = {
    "record_to_refer_to_missing": with_suggestion(_record_missing),
    "row_repeats_rejected_row": gettext_lazy("The row repeats line {first_line:d}, which was rejected."),
    "row_has_other_cell_count": gettext_lazy(
        "The row has {cells:d} cells, the header {columns:d} columns: is a delimiter missing or not quoted?"
    ),
    "row_has_cells_without_column": gettext_lazy(
        "The row has {cells:d} cells, the header {columns:d} columns: name the others or empty them."
    ),
    "row_has_long_cell": gettext_lazy("A cell has {length:d} characters, at most {most:d} are read."),
    "row_nested_too_deeply": gettext_lazy("The line is nested too deeply: it must be one flat object."),
    "row_not_json": gettext_lazy("The line is not JSON that can be read: {problem}."),
    "row_not_object": gettext_lazy("The line must be one JSON object, with a member per column."),
    "member_is_object": gettext_lazy("The member '{member}' is an object: a single value is expected."),
    "member_too_long": gettext_lazy(
        "The member '{member}' has {length:d} characters, at most {most:d} are read."
    ),
    "member_not_list_of_words": gettext_lazy("The member '{member}' must be a list of words."),
    "message_without_key": gettext_lazy("Say whose order it is: give source and external_id as text."),
    "message_not_valid": gettext_lazy("{text}"),
    "piece_lengths_not_expected": gettext_lazy(
        "piece_links says in what lengths chain came in: leave it empty here."
    ),
    "kind_of_part_missing": gettext_lazy("kind is missing: say what part it is, such as sprocket or bush."),
    "kind_of_part_empty": gettext_lazy(
        "kind is empty, but {column} is given: say what part it is, or empty both."
    ),
    "successors_lead_back": gettext_lazy(
        "The successors of '{item}' lead back to it: name the one that is bought now, and leave that one's empty."
    ),
    "successor_rejected": gettext_lazy(
        "The row of '{successor}' was rejected, so nothing can be replaced by it."
    ),
    "same_version_other_content": gettext_lazy(
        "It has another {differs} than is recorded and is no newer: give in updated_at when the order was changed."
    ),
    "key_in_other_case": gettext_lazy(
        "'{key}' is '{other}' in other capitals: write it as it stands there, or give it another name."
    ),
    "record_outside_reach": gettext_lazy(
        "It is outside the plants and storerooms that these credentials may see."
    ),
}

FILES: dict[str, Sentence] = {
    "file_too_large": gettext_lazy("The file has more than {most_bytes:d} bytes: send it in parts."),
    "file_empty": gettext_lazy("The file is empty."),
    "file_without_columns": gettext_lazy("The file is empty: its first line must name the columns."),
    "file_without_rows": gettext_lazy("The file names its columns but has no rows."),
    "lines_of_orders_too_far_apart": gettext_lazy(
        "More than {most:d} rows wait for another row of their order: sort the file by order number."
    ),
    "file_has_too_many_rows": gettext_lazy("The file has more than {most:d} rows: send it in parts."),
    "line_too_long": gettext_lazy(
        "A line of the file has more than {most:d} characters: check its quotation marks and line ends."
    ),
    "file_has_too_many_columns": gettext_lazy("The file has {columns:d} columns, at most {most:d} are read."),
    "file_breaks_off": gettext_lazy("The file breaks off in line {line:d}: send the whole file."),
    "file_is_archive": gettext_lazy(
        "The file is called {ending} but is an archive or a workbook: send it as .xlsx."
    ),
    "file_is_old_workbook": gettext_lazy(
        "The file is an old or a protected workbook: save it as .xlsx without a password, or as CSV."
    ),
    "file_is_no_workbook": gettext_lazy(
        "The file is called {ending} but is no workbook: send it under the name of what it is."
    ),
    "file_encoding_damaged": gettext_lazy(
        "The file says it is {encoding}, but breaks off or is damaged at byte {byte:d}."
    ),
    "file_has_nul_bytes": gettext_lazy(
        "The file holds NUL bytes: it is no text, or it is UTF-16 without its mark. Save it as CSV in UTF-8."
    ),
    "file_has_nul_characters": gettext_lazy(
        "The file holds NUL characters: it is damaged or no table. Save it as CSV in UTF-8."
    ),
    "file_encoding_not_known": gettext_lazy(
        "Line {line:d} holds bytes that are neither UTF-8 nor Windows-1252 text: save the file as CSV in UTF-8."
    ),
    "header_too_long": gettext_lazy(
        "The first line has {length:d} characters: it must name the columns, {most:d} at most."
    ),
    "header_has_two_delimiters": gettext_lazy(
        "The first line separates its columns in two ways: use either commas, semicolons or tabs."
    ),
    "quotation_damaged": gettext_lazy(
        "The record that begins on line {line:d} is damaged or cut off ({problem}): check its quotation marks and send the file "
        "again."
    ),
    "column_without_name": gettext_lazy("Column {number:d} has no name."),
    "column_named_twice": gettext_lazy("The column '{column}' is named {times:d} times."),
    "column_not_known": with_suggestion(gettext_lazy("There is no column '{column}' in {kind:rows}.")),
    "column_missing": gettext_lazy(
        "The column '{column}' is missing: {kind:rows} cannot be read without it."
    ),
    "columns_known": gettext_lazy("The columns of {kind:rows} are: {columns}."),
    "kind_of_file_not_known": with_suggestion(
        gettext_lazy("There is no kind '{kind}': it must be one of {allowed}.")
    ),
    "two_rows_of_one_key": gettext_lazy(
        "Lines {first_line:d} and {line:d} both say {key}, with different {differs}: keep one of them."
    ),
    "more_rows_of_one_key": gettext_lazy("{count:d} more rows of this kind follow."),
    "written_by_another_import": gettext_lazy(
        "Another import wrote the same records at the same time, nothing of this one was kept: send it again."
    ),
    "import_failed": gettext_lazy("The service failed, nothing was written: send the file again."),
    "import_without_room": gettext_lazy(
        "There is no room left on the disk of the database: make room, then send the file again; what was written is not doubled."
    ),
    "import_of_messages_failed": gettext_lazy(
        "The service failed, some messages may be missing: send the file again, what is known stays as it is."
    ),
    "read_as_windows_1252": gettext_lazy(
        "Read as Windows-1252 (Latin-1), because line {line:d} is not UTF-8: check the accented letters."
    ),
}

RESULTS: dict[str, Sentence] = {
    "rows_not_listed": gettext_lazy("{listed:d} rows are listed, {count:d} more are counted only."),
    "more_rows_refused": gettext_lazy(
        "{count:d} more errors of the kind {reason} stand in the column '{column}' of rows that are not listed."
    ),
    "more_whole_rows_refused": gettext_lazy("{count:d} more rows are rejected with {reason} and not listed."),
    "import_refused": gettext_lazy("{kind:rows}: the file was refused, nothing was written."),
    "rows_imported": gettext_lazy(
        "{kind:rows}: {created:d} created, {updated:d} updated, {unchanged:d} unchanged, {rejected:d} rejected."
    ),
    "rows_imported_and_waiting": gettext_lazy(
        "{kind:rows}: {created:d} created, {updated:d} updated, {unchanged:d} unchanged, {waiting:d} waiting, {rejected:d} rejected."
    ),
    "import_was_dry_run": gettext_lazy("This was a dry run: nothing was written."),
    "rejected_rows_left_out": gettext_lazy("The rejected rows were left out."),
    "nothing_written_for_rejected_rows": gettext_lazy(
        "Nothing was written: correct the rejected rows and send the file again."
    ),
}

WORKBOOKS: dict[str, Sentence] = {
    "workbook_damaged": gettext_lazy("The workbook is damaged or cut off: save it again as .xlsx."),
    "sheet_damaged": gettext_lazy("A sheet of the workbook is damaged: save it again as .xlsx or as CSV."),
    "workbook_has_too_many_parts": gettext_lazy(
        "The workbook has {parts:d} parts, at most {most:d} are read."
    ),
    "archive_is_no_workbook": gettext_lazy("The file is an archive but no .xlsx workbook."),
    "workbook_has_password": gettext_lazy("The workbook is protected by a password: save it without one."),
    "workbook_expands_too_far": gettext_lazy(
        "The workbook expands to {bytes:d} bytes, at most {most_bytes:d} are read: save the table as CSV."
    ),
    "workbook_part_expands_too_far": gettext_lazy(
        "A part of the workbook expands more than {most_times:d} times: it is not read."
    ),
    "workbook_declares_entities": gettext_lazy(
        "The workbook declares entities, which no spreadsheet program writes: it is not read."
    ),
    "workbook_has_too_many_texts": gettext_lazy(
        "The workbook holds {texts:d} texts, at most {most:d} are read: save the table as CSV."
    ),
    "workbook_has_texts_in_vain": gettext_lazy(
        "The workbook holds {texts:d} texts for {cells:d} cells with a text: save it again as .xlsx or as CSV."
    ),
    "sheet_is_chart": gettext_lazy("'{sheet}' is a chart, not a table: put the table on the first sheet."),
    "sheet_has_too_many_rows": gettext_lazy("The sheet has more than {most:d} rows: send it in parts."),
    "sheet_chosen": gettext_lazy("Read the sheet '{sheet}' of {sheets:d}."),
}

OPENING_BALANCES: dict[str, Sentence] = {
    "opening_booked_otherwise": gettext_lazy(
        "An opening balance of {booked:d} is booked for this shelf: reverse that movement, or count the shelf, to make it "
        "{quantity:d}."
    ),
    "shelf_has_movements": gettext_lazy(
        "Something is booked on this shelf already, so it has no opening balance any more: count the shelf."
    ),
}

SETS: dict[str, Sentence] = {
    "examples_left_out": gettext_lazy("The example rows of the template were left out: {count:d}."),
    "no_files_sent": gettext_lazy("No file was sent: choose the files first."),
    "too_many_files_sent": gettext_lazy("These are {files:d} files, at most {most:d} are read in one go."),
    "too_many_sheets_sent": gettext_lazy("These are more than {most:d} sheets: send them in several goes."),
    "import_is_over": gettext_lazy("This import is under way or over: send the files again."),
    "kind_of_sheet_not_known": gettext_lazy("{sheet}: there is no kind '{kind}', choose one of the list."),
    "no_sheet_has_a_kind": gettext_lazy("No sheet is to be imported: say of one at least what it is."),
    "kind_beyond_role": gettext_lazy(
        "{sheet}: your role may not import {kind:rows}. Leave it out, or ask a manager."
    ),
    "import_not_done": gettext_lazy("Only an import that was written can be undone, and only once."),
    "import_kind_not_undone": gettext_lazy(
        "It brought {kind:rows}, which are not taken back together: correct them one by one."
    ),
    "stock_moved_since": gettext_lazy(
        "{item} in {storeroom} has moved since (movement {movement:d}): nothing was undone. Reverse that movement first, or "
        "correct the records."
    ),
    "record_gone_since": gettext_lazy("The {record} {name} is gone since: nothing was undone."),
    "record_changed_since": gettext_lazy(
        "The {record} {name} was changed since ({field}): nothing was undone. Correct the records instead."
    ),
    "record_in_use_since": gettext_lazy(
        "The {by} {name} uses a record of this import ({record}): nothing was undone. Delete that first, or correct the "
        "records instead."
    ),
}

SENTENCES: dict[str, Sentence] = {
    **CELLS,
    **ROWS,
    **FILES,
    **RESULTS,
    **WORKBOOKS,
    **OPENING_BALANCES,
    **SETS,
}
