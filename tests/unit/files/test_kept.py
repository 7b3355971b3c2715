"""Records kept on the disk read back as a list of them would."""

from dataclasses import dataclass

import pytest

from trajplan.files import Kept


@dataclass(frozen=True)
class Row:
    number: int


ROWS = tuple(map(Row, range(7)))


@pytest.fixture
def kept():
    return Kept([ROWS[:3], ROWS[3:3], ROWS[3:7]])


def test_it_reads_as_a_tuple_does(kept):
    assert len(kept) == 7
    assert [tuple(kept), tuple(kept)] == [ROWS, ROWS]  # as often as one likes
    assert [kept[at] for at in range(-7, 7)] == [ROWS[at] for at in range(-7, 7)]
    assert kept[1:6:2] == ROWS[1:6:2]
    assert kept[-2:] == ROWS[-2:]
    for outside in (7, -8):
        with pytest.raises(IndexError, match="no record"):
            kept[outside]


def test_two_readers_do_not_disturb_one_another(kept):
    assert [(a.number, b.number) for a in kept for b in kept] == [
        (a, b) for a in range(7) for b in range(7)
    ]


def test_nothing_is_as_nothing():
    assert not Kept([])
    assert list(Kept([])) == []


def test_a_block_is_asked_for_when_the_one_before_is_written():
    alive = []

    def blocks():
        for number in range(4):
            assert len(alive) <= 1  # nobody holds more than the block before
            block = Block(number, alive)
            yield block
            del block

    assert len(Kept(blocks())) == 4


class Block(list):
    """One row, and a note as long as it lives."""

    def __init__(self, number, alive):
        super().__init__([Row(number)])
        self.alive = alive
        alive.append(number)

    def __del__(self):
        self.alive.pop()
