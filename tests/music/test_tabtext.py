"""Tab text: reading and printing are inverse, and every fault has its place."""

import sys
from pathlib import Path

from hypothesis import HealthCheck, given, settings

sys.path.insert(0, str(Path(__file__).parent))
from fragments import at, fragments

from pipeline.music.fragment import Fragment
from pipeline.music.tabtext import print_tab, read_tab


def differences(first: Fragment, second: Fragment) -> str:
    """The fields that two fragments do not agree in, note by note."""
    pairs = zip(first.notes, second.notes, strict=False)
    lines = (
        f"note {i} {name}: {mine} for {getattr(b, name)}"
        for i, (a, b) in enumerate(pairs)
        for name, mine in vars(a).items()
        if mine != getattr(b, name)
    )
    return "\n".join([f"{len(first.notes)} notes for {len(second.notes)}", *lines])


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(fragments())
def test_reading_a_printed_fragment_gives_it_back(fragment: Fragment) -> None:
    text = print_tab(fragment)
    again = read_tab(fragment.name, text, fragment.guitar, at, tempo=fragment.tempo)
    assert again.notes == fragment.notes, text + differences(again, fragment)
    assert again == fragment
    assert print_tab(again) == text
