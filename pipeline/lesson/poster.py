"""The picture that stands for a segment's film: the moment of a scene that says most of it."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from pipeline.lesson.arrange import Composition, Placed
from pipeline.music.fragment import Fragment
from pipeline.views.stage import Pass
from pipeline.views.words import Words

Worth = Literal[0, 1, 2]
"""What a moment shows: 2 a title, 1 notes that sound, 0 neither."""
LONGEST_TITLE = 60
"""Signs; more is read, not seen at a glance (own choice)."""
LIT = Fraction(1, 3)
"""Share of the time to the next note at which a note is well lit."""


@dataclass(frozen=True)
class Telling:
    """A scene's most telling second, and what it shows."""

    worth: Worth
    second: Fraction


NOTHING = Telling(0, Fraction(0))


def telling(
    composition: Composition, passes: tuple[Pass, ...], fragment: Fragment | None, duration: Fraction
) -> Telling:
    """The middle of a title, else a note in the middle of the first pass, else the middle of the scene."""
    for one in composition.placed:
        if _is_title(one):
            return Telling(2, (one.since + min(one.until, duration)) / 2)
    if fragment is not None and passes:
        notes = _note_in_the_middle(fragment, passes[0])
        if notes is not None:
            return Telling(1, notes)
    return Telling(0, duration / 2)


def _is_title(one: Placed) -> bool:
    """Words set as a title, few enough to be one."""
    view = one.view
    return isinstance(view, Words) and view.kind == "title" and len(view.text) <= LONGEST_TITLE


def _note_in_the_middle(fragment: Fragment, one: Pass) -> Fraction | None:
    """A little after a note's onset, so that it is lit and the others around it can be read."""
    onsets = sorted({note.onset for note in fragment.notes if note.onset in one.beats})
    if not onsets:
        return None
    index = len(onsets) // 2
    start = one.moments(onsets[index])
    end = one.moments(onsets[index + 1]) if index + 1 < len(onsets) else one.span.end
    return start + (end - start) * LIT
