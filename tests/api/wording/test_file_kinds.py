from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.tables import TABLES
from api.wording.record_kinds import FILE_KINDS, file_kind


def test_every_kind_of_file_has_its_words() -> None:
    assert set(FILE_KINDS) == {*TABLES, *MESSAGE_TABLES}
    assert file_kind("opening-balances") == "opening balances"
    assert file_kind("another") == "another"
