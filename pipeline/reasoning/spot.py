"""Where a fault of a fragment lies before anyone knows the file: at one of its notes."""

from dataclasses import dataclass

from pipeline.errors import Place
from pipeline.music.fragment import Fragment


@dataclass(frozen=True, order=True)
class Spot(Place):
    """A note of a fragment (from 0), whose name stands for the file; -1 means the fragment as a whole."""

    note: int = -1


def spot(fragment: Fragment, note: int = -1) -> Spot:
    """The spot of a note."""
    return Spot(fragment.name, note=note)
