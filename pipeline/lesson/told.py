"""What a page has told so far, so that every passage on it has its own tempo, meter and tuning, each once.

The head tells what holds for all of its music: the tuning, where there is one. A passage tells its tempo and
meter, and its tuning where it differs from the one before. A part that is about another passage than the
one before says in its heading which.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from pipeline.files.pages import Facts, Heading
from pipeline.lesson.lesson import Lesson
from pipeline.lesson.paper import FragmentPart, Part
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.pitch import pitch_class_name, pitch_name
from pipeline.timing import Span

Fact = tuple[str, str]
Strung = tuple[tuple[int, ...], int]
"""Open strings and capo: all that a player tunes."""
USUAL_STRINGS = 6
"""So many strings are told without octaves."""


@dataclass
class Told:
    """The passages of a lesson's pages, the one that is spoken of, and the tuning that was told last."""

    lesson: Lesson
    parts: Sequence[Part]
    strung: Strung | None = None
    passage: str = ""

    def head(self) -> tuple[Fact, ...]:
        """The facts that hold for all music on the pages."""
        fragments = [self.lesson.fragment(name) for name in self._names()]
        if len({_strung(fragment.guitar) for fragment in fragments}) != 1:
            return ()
        self.strung = _strung(fragments[0].guitar)
        return _tuning(fragments[0])

    def opening(self, part: FragmentPart, beats: Span) -> Iterator[Heading | Facts]:
        """The heading of a passage that is written out, and its facts."""
        self.passage = part.fragment
        fragment = self.lesson.fragment(part.fragment)
        yield Heading(self._title(part.fragment, part))
        yield Facts((*self._changed_tuning(fragment), *_tempo_and_meter(fragment, beats)))

    def heading(self, words: str, name: str, level: int = 3) -> Heading:
        """The heading of what is said about a passage, with its name where the page spoke of another."""
        if name != self.passage and len(self._names()) > 1:
            words = f"{words}: {self._title(name)}"
        self.passage = name
        return Heading(words, level)

    def retuned(self, fragment: Fragment) -> Iterator[Facts]:
        """The tuning of a passage where it differs from the one that was told last."""
        if facts := self._changed_tuning(fragment):
            yield Facts(facts)

    def _changed_tuning(self, fragment: Fragment) -> tuple[Fact, ...]:
        before, self.strung = self.strung, _strung(fragment.guitar)
        return () if before == self.strung else _tuning(fragment)

    def _names(self) -> tuple[str, ...]:
        """The passages that the pages are about, in order."""
        named = (getattr(part, "fragment", None) for part in self.parts)
        return tuple(dict.fromkeys(name for name in named if name))

    def _title(self, name: str, own: FragmentPart | None = None) -> str:
        """A passage's title: that of its own part, else the first that it has anywhere, else its name."""
        written = (part for part in self.parts if isinstance(part, FragmentPart) and part.fragment == name)
        titles = [part.title for part in ([own] if own else written) if part.title]
        return titles[0] if titles else name.replace("-", " ").replace("_", " ").capitalize()


def _strung(guitar: Guitar) -> Strung:
    return guitar.strings, guitar.capo


def _tuning(fragment: Fragment) -> tuple[Fact, ...]:
    """The open strings from the lowest on, and the capo."""
    guitar = fragment.guitar
    named = pitch_class_name if guitar.string_count == USUAL_STRINGS else pitch_name
    tuning = ("Tuning", " ".join(named(note, fragment.flats) for note in reversed(guitar.strings)))
    return (tuning, ("Capo", f"fret {guitar.capo}")) if guitar.capo else (tuning,)


def _tempo_and_meter(fragment: Fragment, beats: Span) -> tuple[Fact, ...]:
    """The tempo, and every meter of some beats in order."""
    tempo = ("Tempo", f"{float(fragment.tempo):g} quarter notes a minute")
    shown = (one for one in fragment.measures if one.start < beats.end and beats.start < one.end)
    meters = list(dict.fromkeys(str(one.meter) for one in shown))
    return (tempo, ("Meter", ", ".join(meters))) if meters else (tempo,)


def whole(fragment: Fragment) -> Span:
    """All beats of a passage."""
    return Span("beat", Fraction(0), fragment.length)
