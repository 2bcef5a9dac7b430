from inventory.progress import counted, stretches


class Heard:
    def __init__(self) -> None:
        self.told: list[tuple[int, int]] = []

    def __call__(self, done: int, total: int) -> None:
        self.told.append((done, total))


def test_a_step_is_told_once_it_is_done() -> None:
    heard = Heard()
    steps = counted("abc", heard)
    assert next(steps) == "a"
    assert heard.told == []
    assert next(steps) == "b"
    assert heard.told == [(1, 3)]
    assert list(steps) == ["c"]
    assert heard.told[-1] == (3, 3)


def test_parts_with_steps_of_their_own_make_one_whole() -> None:
    heard = Heard()
    load, judge, write = stretches(heard, 1, 3, 1)
    load(1, 1)
    judge(5, 10)
    judge(10, 10)
    write(2, 2)
    assert [done / total for done, total in heard.told] == [0.2, 0.5, 0.8, 1.0]


def test_a_part_may_be_cut_into_parts() -> None:
    heard = Heard()
    _, second = stretches(heard, 1, 1)
    for part in stretches(second, 1, 1):
        part(1, 1)
    assert [done / total for done, total in heard.told] == [0.75, 1.0]
