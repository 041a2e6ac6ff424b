"""Where pages may break between rows of a handout, and how figures share rows, so that none is left alone."""

from collections.abc import Sequence

from pipeline.files.pages import Figure


def tied(count: int, whole: int) -> tuple[bool, ...]:
    """Which of `count` rows stay on the page of the row after them.

    Up to `whole` rows stay together. Of more, the last two do, and the first two where that leaves others.
    """
    ties = set(range(count - 1)) if count <= whole else {count - 2} | ({0} if count > 3 else set())
    return tuple(row in ties for row in range(count))


def columns(count: int, wide: int, narrow: int) -> int:
    """How many figures a row has: the `wide`, or some fewer, down to the `narrow`, where that fills the rows
    better.

    What counts is first how many rows there are, then that the last has no single figure, then blanks.
    """

    def cost(across: int) -> tuple[int, bool, int]:
        rows = -(-count // across)
        return rows, count > across and count % across == 1, rows * across - count

    return min(range(wide, narrow - 1, -1), key=cost)


def in_rows(figures: Sequence[Figure], across: int) -> list[tuple[Figure, ...]]:
    """Rows of at most `across`; a single last one is joined by one of the row before."""
    starts = list(range(0, len(figures), across))
    if len(starts) > 1 and across > 2 and len(figures) - starts[-1] == 1:
        starts[-1] -= 1
    return [tuple(figures[a:b]) for a, b in zip(starts, [*starts[1:], len(figures)], strict=True)]
