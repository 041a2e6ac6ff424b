"""What an educator asks of a script besides building it: rival readings, notes in a clip, practice sound."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from pipeline.errors import Faulty, Place, faulty
from pipeline.files.sound import write_flac
from pipeline.lesson.answers import freed
from pipeline.lesson.beats import OutOfReach, clip_map, marks_of_clip
from pipeline.lesson.check import read_checked
from pipeline.lesson.check_files import habits_called
from pipeline.lesson.named import NamedClip, named_clip, named_fragment, read_pair
from pipeline.lesson.note_places import placed_faults
from pipeline.lesson.writeback import moment_in_words, write_fragment, write_marks
from pipeline.music.fragment import Fragment
from pipeline.music.passage import performed
from pipeline.reasoning.explain import Weighing, weigh
from pipeline.reasoning.limits import Region
from pipeline.sound.align import Alignment, align
from pipeline.sound.align_marks import Mark, marks_of
from pipeline.sound.decode import cautions, decode
from pipeline.sound.practice import guided, practised, sounds
from pipeline.sound.signal import Signal
from pipeline.timing import Span, TimeMap


def weigh_fragment(
    script: Path,
    name: str,
    count: int,
    free: bool,
    allow_outside: bool = False,
    region: Region | None = None,
    clip: str | None = None,
) -> Weighing:
    """The readings of a fragment; with `free` without regard to its written strings and fingers.

    The hand stays in positions `region`; the time for a shift is that of the clip's marks, else the tempo's.
    """
    checked = read_checked(script, allow_outside)
    fragment = named_fragment(checked, name)
    habits = habits_called(checked.script.episode.habits, checked.script.folder)
    times = heard_times(named_clip(checked, clip), fragment) if clip else None
    try:
        return weigh(freed(fragment) if free else fragment, habits, times, count, region)
    except Faulty as error:
        raise placed_faults(checked.script, fragment, error) from None


def heard_times(clip: NamedClip, fragment: Fragment) -> tuple[Fraction, ...]:
    """The second at which each note starts in a clip, by its marks. Raises Faulty."""
    moments = clip_beats(clip, fragment)
    if moments is None:
        wrong = f"nothing says where the beats of {clip.name!r} lie"
        raise faulty(clip.place, wrong, "find them with `fretscene align`, or add marks or a tempo")
    return tuple(moments(note.onset) for note in fragment.notes)


def keep_reading(script: Path, name: str, weighing: Weighing, number: int) -> Path:
    """Write a reading (counted from 1) into the script's fragment; returns the file. Raises Faulty."""
    if not 1 <= number <= len(weighing.readings):
        wrong = f"there is no reading {number}"
        raise faulty(Place(name), wrong, f"choose 1 to {len(weighing.readings)}")
    return write_fragment(script, name, weighing.readings[number - 1].reading.on(weighing.fragment))


@dataclass(frozen=True)
class Found:
    """Where the notes of a fragment lie in a clip."""

    fragment: Fragment
    clip: str
    alignment: Alignment
    signal: Signal = field(repr=False)
    cautions: tuple[str, ...] = ()
    by_hand: tuple[tuple[Fraction, Fraction], ...] = ()
    """The marks that bound it: beat and second."""

    @property
    def marks(self) -> list[Mark]:
        """A mark where anything starts, and those set by hand between."""
        found = marks_of(self.alignment, self.fragment)
        beats = {beat for beat, _, _ in found}
        return sorted([*found, *((beat, second, 1.0) for beat, second in self.by_hand if beat not in beats)])

    def lines(self) -> Iterator[str]:
        """A line a mark, then what is doubtful."""
        for beat, second, confidence in self.marks:
            moment = moment_in_words(self.fragment, beat)
            yield f"{moment:>10}  {float(second):9.4f} s  confidence {confidence:.2f}"
        yield f"the phrase as a whole: confidence {self.alignment.phrase:.2f}"
        for doubt in self.alignment.doubts:
            yield f"doubtful: note {doubt.note + 1}: {doubt.reason}"


def find_notes(
    script: Path, clip: str, fragment: str, keep_marks: bool, allow_outside: bool = False
) -> Found:
    """Find a fragment's notes in a clip; the clip's marks bind the rest where `keep_marks`. Raises Faulty."""
    notes, recording = read_pair(script, fragment, clip, allow_outside)
    return aligned(recording, notes, keep_marks)


def aligned(clip: NamedClip, fragment: Fragment, keep_marks: bool) -> Found:
    """A fragment's notes in a clip that was found in a script. Raises Faulty."""
    _refuse_repeats(clip, fragment)
    marks = _by_hand(clip, fragment) if keep_marks else ()
    signal = decode(clip.path, clip.place)
    span = Span("clip", *clip.keys.span) if clip.keys.span else None
    alignment = align(signal, fragment, span, dict(marks), clip.place)
    return Found(fragment, clip.name, alignment, signal, tuple(cautions(clip.path, signal)), marks)


def clip_beats(clip: NamedClip, fragment: Fragment) -> TimeMap | None:
    """From a fragment's beats to a clip's seconds; None where the script does not say. Raises Faulty."""
    _refuse_repeats(clip, fragment)
    try:
        return clip_map(clip.keys, fragment)
    except OutOfReach as error:
        raise faulty(clip.place, error.wrong, error.remedy) from None


def _by_hand(clip: NamedClip, fragment: Fragment) -> tuple[tuple[Fraction, Fraction], ...]:
    """The beat and the second of each mark that a clip has already. Raises Faulty."""
    try:
        return tuple(marks_of_clip(clip.keys, fragment))
    except OutOfReach as error:
        raise faulty(clip.place, error.wrong, error.remedy) from None


def _refuse_repeats(clip: NamedClip, fragment: Fragment) -> None:
    if fragment.repeats:
        wrong = f"{fragment.name!r} has repeats, of which a clip hears every one"
        raise faulty(clip.place, wrong, "write the repeats out in a fragment of its own")


def keep_marks(script: Path, found: Found) -> bool:
    """Write the marks that were found into the script's clip; whether a tempo gave way. Raises Faulty."""
    return write_marks(script, found.clip, found.fragment, found.marks)


def practice_files(
    script: Path, name: str, folder: Path, minutes: int, click: bool, allow_outside: bool = False
) -> Iterator[Path]:
    """Write a fragment as practice sound at a ladder of tempos; yields each file as it is written."""
    checked = read_checked(script, allow_outside)
    fragment = performed(named_fragment(checked, name))
    plan = practised(fragment, minutes=minutes)
    title = checked.script.episode.title
    for number, (stem, signal) in enumerate(sounds(guided(fragment), plan, click), 1):
        tags = {"title": stem, "album": title, "artist": checked.script.episode.teacher}
        yield write_flac(folder / f"{stem}.flac", signal, 16, {**tags, "tracknumber": str(number)})
