from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from drives.substitutes.job_promises import (
    FreeStock,
    IncomingStock,
    JobClaim,
    JobSupply,
    ReservedStock,
    promise_item,
)

SOON, LATER = date(2030, 4, 1), date(2030, 5, 1)
HERE, NEXT_DOOR, FAR = 1, 2, 3
SIX_MINUTES = {(NEXT_DOOR, HERE): 6}


def job(number: int, *lines: int, needed_by: date | None = SOON, **more: object) -> JobClaim:
    given = {"room_id": HERE, "lines": lines or (1,)} | more
    return JobClaim(job_id=number, work_order=f"WO-{number}", needed_by=needed_by, **given)  # type: ignore[arg-type]


def pieces(*shelves: tuple[int, int], **more: object) -> JobSupply:
    found = tuple(FreeStock(room, f"ROOM-{room}", quantity) for room, quantity in shelves)
    return JobSupply(is_chain=False, shelves=found, minutes=SIX_MINUTES, **more)  # type: ignore[arg-type]


def chain(*shelves: tuple[int, tuple[int, ...]], **more: object) -> JobSupply:
    found = tuple(FreeStock(room, f"ROOM-{room}", sum(links), links) for room, links in shelves)
    return JobSupply(is_chain=True, shelves=found, minutes=SIX_MINUTES, **more)  # type: ignore[arg-type]


def test_the_last_piece_goes_to_the_job_with_the_earlier_date() -> None:
    found = promise_item([job(1, needed_by=LATER), job(2), job(3, needed_by=None)], pieces((HERE, 1)))
    assert [found.by_job[n].missing for n in (1, 2, 3)] == [1, 0, 1]
    (gone,) = found.by_job[1].in_the_way
    assert gone.code == "promised_to_earlier_job"
    assert gone.values == {"work_order": "WO-2", "quantity": 1, "needed_by": "2030-04-01"}
    assert found.shortages_before(found.by_job[3].claim) == (1,)


def test_what_lies_next_door_is_brought_and_the_own_storeroom_comes_first() -> None:
    promise = promise_item([job(1, 3)], pieces((NEXT_DOOR, 5), (HERE, 2))).by_job[1]
    assert [(one.storeroom, one.quantity, one.minutes) for one in promise.sources] == [
        ("ROOM-1", 2, 0),
        ("ROOM-2", 1, 6),
    ]
    assert promise.is_ready
    assert promise.is_brought


def test_without_a_transfer_time_a_piece_is_named_and_not_promised() -> None:
    promise = promise_item([job(1)], pieces((FAR, 4))).by_job[1]
    assert (promise.missing, promise.sources) == (1, ())
    assert [one.code for one in promise.in_the_way] == ["transfer_time_not_recorded"]


def test_what_other_work_has_reserved_is_named() -> None:
    held = (ReservedStock(HERE, "ROOM-1", "WO-9", 2), ReservedStock(HERE, "ROOM-1", "WO-1", 1))
    promise = promise_item([job(1, 2, reserved=1)], pieces((HERE, 0), reservations=held)).by_job[1]
    assert promise.missing == 1
    (reserved,) = promise.in_the_way
    assert reserved.code == "reserved_in_storeroom"
    assert reserved.values == {"work_order": "WO-9", "quantity": 2, "storeroom": "ROOM-1"}


def test_a_job_that_may_not_be_seen_has_no_name() -> None:
    found = promise_item([job(1, is_visible=False), job(2, needed_by=LATER)], pieces((HERE, 1)))
    (gone,) = found.by_job[2].in_the_way
    assert (gone.code, gone.values) == ("promised_to_job_of_other_plant", {"quantity": 1})


def test_pieces_on_order_are_promised_once_too() -> None:
    supply = pieces(incoming=(IncomingStock(HERE, SOON, 1), IncomingStock(NEXT_DOOR, LATER, 1)))
    found = promise_item([job(1), job(2), job(3)], supply)
    assert found.by_job[1].due_on == SOON
    assert found.by_job[2].due_on == date(2030, 5, 2), "six minutes may be the next day"
    assert found.by_job[3].due_on is None


def test_short_pieces_of_chain_serve_no_job() -> None:
    found = promise_item([job(1, 82), job(2, 164)], chain((HERE, (78, 60, 54, 54)), (NEXT_DOOR, (90, 90))))
    assert found.by_job[1].sources[0].piece_links == 90
    assert found.by_job[1].sources[0].minutes == 6
    assert found.by_job[2].short == (164,)
    joined = promise_item([job(2, 164)], chain((NEXT_DOOR, (90, 90))), chain_joints=1).by_job[2]
    assert [(one.quantity, one.piece_links) for one in joined.sources] == [(90, 90), (74, 90)]


def test_two_chains_of_one_job_are_two_cuts() -> None:
    promise = promise_item([job(1, 60, 60)], chain((HERE, (70, 55)))).by_job[1]
    assert promise.short == (60,)
    assert promise_item([job(1, 60, 60)], chain((HERE, (120,)))).by_job[1].is_ready
    assert promise_item([job(1, 60, 60, issued=60)], chain((HERE, (70,)))).by_job[1].is_ready


def test_reserved_chain_is_cut_first() -> None:
    held = (ReservedStock(HERE, "ROOM-1", "COUNTER", 82), ReservedStock(HERE, "ROOM-1", "WO-2", 82))
    claims = [job(1, 82), job(2, 82, needed_by=LATER, reserved=82, reserved_in=frozenset({HERE}))]
    found = promise_item(claims, chain((HERE, (90, 84)), reservations=held))
    assert found.by_job[2].is_ready
    assert found.by_job[1].short == (82,)


def test_links_reserved_for_a_job_that_they_cannot_serve_are_still_held() -> None:
    held = (ReservedStock(HERE, "ROOM-1", "WO-2", 100),)
    claims = [job(1, 60), job(2, 100, needed_by=LATER, reserved=100, reserved_in=frozenset({HERE}))]
    found = promise_item(claims, chain((HERE, (70, 70)), reservations=held))
    assert (found.by_job[1].short, found.by_job[2].short) == ((60,), (100,))


@given(
    needs=st.lists(st.tuples(st.integers(1, 4), st.sampled_from([SOON, LATER, None])), max_size=6),
    here=st.integers(0, 6),
    there=st.integers(0, 6),
)
def test_nothing_is_promised_twice(needs: list[tuple[int, date | None]], here: int, there: int) -> None:
    claims = [job(n, quantity, needed_by=day) for n, (quantity, day) in enumerate(needs)]
    found = promise_item(claims, pieces((HERE, here), (NEXT_DOOR, there)))
    promised = sum(source.quantity for one in found.by_job.values() for source in one.sources)
    assert promised == min(here + there, sum(claim.quantity for claim in claims))
    assert promised + sum(shelf.quantity for shelf in found.left.shelves) == here + there
    for claim in claims:
        assert (
            found.by_job[claim.job_id].missing
            + sum(source.quantity for source in found.by_job[claim.job_id].sources)
            == claim.quantity
        )


@given(
    needs=st.lists(st.integers(1, 9), max_size=5),
    lengths=st.lists(st.integers(1, 12), max_size=5),
    joints=st.integers(0, 2),
)
def test_no_link_is_promised_twice(needs: list[int], lengths: list[int], joints: int) -> None:
    claims = [job(n, links) for n, links in enumerate(needs)]
    found = promise_item(claims, chain((HERE, tuple(lengths))), chain_joints=joints)
    promised = sum(source.quantity for one in found.by_job.values() for source in one.sources)
    assert promised + sum(sum(shelf.piece_links) for shelf in found.left.shelves) == sum(lengths)
    for promise in found.by_job.values():
        assert promise.missing + sum(source.quantity for source in promise.sources) == promise.claim.quantity
        assert len(promise.sources) <= joints + 1
