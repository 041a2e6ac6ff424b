"""Searching exact moments by their roundings gives what searching them exactly gives."""

from bisect import bisect_left, bisect_right
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from pipeline.timing import Moments

HAIR = Fraction(1, 1 << 80)
"""Far less than a float at 1 can tell apart."""
near_one = st.integers(-3, 3).map(lambda steps: 1 + steps * HAIR)
moments = st.one_of(near_one, st.fractions(-5, 5))


@given(st.lists(moments).map(sorted), moments)
def test_the_search_is_exact_where_roundings_are_alike(found: list[Fraction], moment: Fraction) -> None:
    searched = Moments(tuple(found))
    assert searched.until(moment) == bisect_right(found, moment)
    assert searched.before(moment) == bisect_left(found, moment)
