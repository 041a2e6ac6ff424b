"""What an educator asks of a script besides building it: rival readings, notes in a clip, practice sound."""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pipeline.errors import Fault, Faulty, Place, did_you_mean, faulty
from pipeline.files.sound import write_flac
from pipeline.lesson.answers import freed
from pipeline.lesson.beats import clip_map
from pipeline.lesson.check import Checked, read_checked
from pipeline.lesson.check_files import habits_called
from pipeline.lesson.script import read_script
from pipeline.lesson.writeback import moment_in_words, write_fragment, write_marks
from pipeline.music.fragment import Fragment
from pipeline.reasoning.explain import Weighing, weigh
from pipeline.sound.align import Alignment, align
from pipeline.sound.align_marks import marks_of
from pipeline.sound.decode import decode
from pipeline.sound.practice import guided, planned, sounds
from pipeline.timing import Span


def weigh_fragment(script: Path, name: str, count: int, free: bool, allow_outside: bool = False) -> Weighing:
    """The readings of a fragment; with `free` without regard to its written strings and fingers."""
    checked = read_checked(script, allow_outside)
    fragment = named_fragment(checked, name)
    habits = habits_called(checked.script.episode.habits, checked.script.folder)
    return weigh(freed(fragment) if free else fragment, habits, k=count)


def keep_reading(script: Path, name: str, weighing: Weighing, number: int) -> None:
    """Write a reading (counted from 1) into the script's fragment. Raises Faulty."""
    if not 1 <= number <= len(weighing.readings):
        wrong = f"there is no reading {number}"
        raise faulty(Place(name), wrong, f"choose 1 to {len(weighing.readings)}")
    write_fragment(script, name, weighing.readings[number - 1].reading.on(weighing.fragment))


@dataclass(frozen=True)
class Found:
    """Where the notes of a fragment lie in a clip."""

    fragment: Fragment
    clip: str
    alignment: Alignment

    def lines(self) -> Iterator[str]:
        """A line a mark, then what is doubtful."""
        for beat, second, confidence in marks_of(self.alignment, self.fragment):
            moment = moment_in_words(self.fragment, beat)
            yield f"{moment:>10}  {float(second):9.4f} s  confidence {confidence:.2f}"
        yield f"the phrase as a whole: confidence {self.alignment.phrase:.2f}"
        for doubt in self.alignment.doubts:
            yield f"doubtful: note {doubt.note + 1}: {doubt.reason}"


def find_notes(
    script: Path, clip: str, fragment: str, keep_marks: bool, allow_outside: bool = False
) -> Found:
    """Find a fragment's notes in a clip; the clip's marks bind the rest where `keep_marks`. Raises Faulty."""
    read = read_script(script, allow_outside)
    keys = read.episode.clips.get(clip)
    if keys is None:
        wrong = f"there is no clip {clip!r}"
        raise faulty(read.source.place(("clips",)), wrong, did_you_mean(clip, read.episode.clips))
    checked = read_checked(script, allow_outside)
    passage = named_fragment(checked, fragment)
    place = read.source.place(("clips", clip, "file"))
    signal = decode(read.folder / keys.file, place)
    span = Span("clip", keys.span[0], keys.span[1]) if keys.span else None
    known = clip_map(keys, passage) if keep_marks and keys.marks else None
    marks = dict(known.points) if known else {}
    return Found(passage, clip, align(signal, passage, span, marks, place))


def keep_marks(script: Path, found: Found) -> None:
    """Write the marks that were found into the script's clip. Raises Faulty."""
    write_marks(script, found.clip, found.fragment, marks_of(found.alignment, found.fragment))


def practice_files(
    script: Path, name: str, folder: Path, minutes: int, click: bool, allow_outside: bool = False
) -> Iterator[Path]:
    """Write a fragment as practice sound at a ladder of tempos; yields each file as it is written."""
    checked = read_checked(script, allow_outside)
    fragment = named_fragment(checked, name)
    seconds = (fragment.length + fragment.measures[0].length) * Fraction(60) / fragment.tempo
    plan = planned(fragment.tempo, seconds, minutes=minutes)
    title = checked.script.episode.title
    for number, (stem, signal) in enumerate(sounds(guided(fragment), plan, click), 1):
        tags = {"title": stem, "album": title, "artist": checked.script.episode.teacher}
        yield write_flac(folder / f"{stem}.flac", signal, 16, {**tags, "tracknumber": str(number)})


def named_fragment(checked: Checked, name: str) -> Fragment:
    """A fragment of a script. Raises Faulty for one that is not there."""
    if name not in checked.fragments:
        place = checked.script.source.place(("fragments",))
        raise Faulty([Fault(place, f"there is no fragment {name!r}", did_you_mean(name, checked.fragments))])
    return checked.fragments[name]
