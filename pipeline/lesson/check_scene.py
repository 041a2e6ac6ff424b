"""What can be wrong with one scene: what it plays, when things happen in it, whether its clip holds it."""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Any

from pipeline.files.captions import FASTEST
from pipeline.lesson.beats import OutOfReach, bars_span, beat_of, clip_map, notes_span
from pipeline.lesson.check_files import file_length
from pipeline.lesson.check_rooms import RoomChecks
from pipeline.lesson.material import ClipKeys
from pipeline.lesson.proof import At, Proof
from pipeline.lesson.script import NONE, Episode, PlayingKeys, SceneKeys, SegmentKeys, flowing
from pipeline.lesson.spoken import captions
from pipeline.lesson.values import Moment
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.timing import Span

When = Moment | Fraction | None
MOST_PASSES = 500
PLAYED = (
    "fragment",
    "clip",
    "speeds",
    "loops",
    "pause",
    "lead",
    "tail",
    "bars",
    "notes",
    "duration",
    "voice",
)
"""Keys without which nobody can say what a scene plays and for how long."""
LONGEST = Fraction(3600)
"""Seconds a scene may last."""
STILL = Fraction(15)
"""So many seconds without anything before spoken words are told (own choice)."""


@dataclass(frozen=True)
class SceneAt:
    """A scene among what flows down to it, and where it stands in the script."""

    at: At
    episode: Episode
    segment: SegmentKeys
    keys: SceneKeys

    @cached_property
    def levels(self) -> tuple[PlayingKeys, ...]:
        return self.keys, self.segment, self.episode

    def place_of(self, key: str) -> At:
        """Where the value of a key that flows down was written."""
        name = key.replace("_", "-")
        for level, at in zip(self.levels, (self.at, self.at[:2], ()), strict=True):
            if getattr(level, key) is not None:
                return (*at, name)
        return self.at


class SceneChecks:
    """The checks of scenes; each notes its faults in the proof."""

    def __init__(self, proof: Proof, played: dict[str, Fragment]) -> None:
        self.proof = proof
        self.played = played
        self.rooms = RoomChecks(proof)
        self._pairs: set[tuple[str, str]] = set()

    def check(self, scene: SceneAt) -> None:
        """Look at one scene."""
        self._zoom_targets(scene)
        self._captions(scene)
        if not all(self.proof.sound(at, *PLAYED) for at in (scene.at, scene.at[:2], ())):
            return
        name = flowing("fragment", *scene.levels)
        if name is None:
            self._without_playing(scene)
            self._views(scene, None, Span("beat", Fraction(0), Fraction(0)))
            return
        fragment = self.played.get(name)
        if fragment and not fragment.placed and "written" in (scene.keys.readings or ()):
            wrong = f"{name!r} is written without strings"
            self.proof.add((*scene.at, "readings"), wrong, "ask for another reading, such as best")
        span = self.span(scene, fragment) if fragment else None
        if fragment is None or span is None or not self._countable(scene):
            return
        self._moments(scene, fragment, span)
        self._views(scene, fragment, span)
        seconds = self._clip(scene, fragment, span) or span.length * 60 / fragment.tempo
        self._long(scene, seconds, seconds / span.length if span.length else Fraction(0))

    def _countable(self, scene: SceneAt) -> bool:
        passes = _passes(scene)
        if passes <= MOST_PASSES:
            return True
        wrong = f"the scene has {passes} passes, speeds times loops"
        self.proof.add(scene.place_of("loops"), wrong, f"keep to {MOST_PASSES}")
        return False

    def _long(self, scene: SceneAt, seconds: Fraction, click: Fraction = Fraction(0)) -> None:
        """A scene's length is known from its speeds; a slip of the pen may make it endless.

        `seconds` are those of one pass at full speed, `click` those of a quarter note.
        """
        speeds, loops = flowing("speeds", *scene.levels), flowing("loops", *scene.levels)
        playing = sum(seconds * 100 / percent for percent in speeds) * loops
        pauses = flowing("pause", *scene.levels) * (_passes(scene) - 1)
        stops = sum(hold.lasting for hold in scene.keys.holds) * _passes(scene)
        self._within(scene, playing + pauses + stops)
        clicks = sum(click * 100 / percent for percent in speeds) * flowing("count_in", *scene.levels)
        self._late_words(scene, playing + pauses + stops + clicks)

    def _late_words(self, scene: SceneAt, seconds: Fraction) -> None:
        """Words may outlast the playing, but a slip of the pen leaves a long stillness before them."""
        keys = scene.keys
        until = seconds + sum(flowing(key, *scene.levels) for key in ("lead", "tail"))
        until = max(until, keys.duration or Fraction(0), self._voice_end(keys))
        for index, line in enumerate(captions(keys.spoken)):
            if line.start - until > STILL:
                still = f"nothing happens for {float(line.start - until):.0f} s before these words"
                wrong = f"{still}, and the scene lasts {float(line.end):.0f} s for them"
                remedy = "let them come earlier, or give the scene a duration that holds them"
                self.proof.caution((*scene.at, "spoken", index), wrong, remedy)
            until = max(until, line.end)

    def _voice_end(self, keys: SceneKeys) -> Fraction:
        if keys.voice is None:
            return Fraction(0)
        length = file_length(self.proof.script.folder / keys.voice.file)
        return keys.voice.at + (length or Fraction(0))

    def _within(self, scene: SceneAt, seconds: Fraction) -> None:
        keys, lead_and_tail = scene.keys, [flowing(key, *scene.levels) for key in ("lead", "tail")]
        ends = [
            seconds,
            *lead_and_tail,
            keys.duration or Fraction(0),
            keys.voice.at if keys.voice else Fraction(0),
        ]
        ends += (line.at or line.lasting or Fraction(0) for line in keys.spoken)
        if max(ends) > LONGEST:
            wrong = f"the scene would last more than {int(LONGEST) // 60} minutes"
            self.proof.add(scene.at, wrong, "play fewer passes, or divide it")

    def _without_playing(self, scene: SceneAt) -> None:
        keys, proof = scene.keys, self.proof
        self._within(scene, Fraction(0))
        clip = scene.episode.clips.get(keys.clip or "")
        if clip is not None and self.proof.sound(("clips", str(keys.clip))):
            self._bare(scene, clip)
        elif keys.duration is None and keys.voice is None and keys.clip in (None, NONE):
            proof.add(scene.at, "nothing is played and no duration is given", "add a fragment or a duration")
        else:
            self._late_words(scene, Fraction(0))
        for key in ("bars", "notes", "holds", "zooms", "readings"):
            if getattr(keys, key):
                proof.add((*scene.at, key), f"{key} need a fragment", "name the fragment that is played")

    def _bare(self, scene: SceneAt, clip: ClipKeys) -> None:
        """A clip without a passage is played whole, so its length must be known."""
        length = file_length(self.proof.script.folder / clip.file)
        if clip.span is None and length is None:
            wrong = f"{clip.file!r} does not say how long it is"
            self.proof.add(scene.place_of("clip"), wrong, "give the clip a span")
        elif clip.span is not None and length is not None and clip.span[1] > length:
            wrong = f"the clip's span ends after its file, which lasts {float(length):.3f} s"
            self.proof.add(scene.place_of("clip"), wrong, "shorten the span")
        else:
            start, end = clip.span or (Fraction(0), length or Fraction(0))
            self._long(scene, end - start)

    def span(self, scene: SceneAt, fragment: Fragment) -> Span | None:
        """The beats that are played; None, and a fault, where there are none."""
        keys = scene.keys
        if keys.bars is not None and keys.notes is not None:
            self.proof.add((*scene.at, "notes"), "both bars and notes are given", "keep one of them")
            return None
        try:
            if keys.bars is not None:
                return bars_span(keys.bars, fragment)
            if keys.notes is not None:
                return notes_span(keys.notes, fragment)
        except OutOfReach as error:
            key = "bars" if keys.bars is not None else "notes"
            self.proof.add((*scene.at, key), error.wrong, error.remedy)
            return None
        return Span("beat", Fraction(0), fragment.length)

    def _moments(self, scene: SceneAt, fragment: Fragment, span: Span) -> None:
        passes = _passes(scene)
        for index, hold in enumerate(scene.keys.holds):
            at = (*scene.at, "holds", index)
            self.moment((*at, "at"), hold.at, fragment, span)
            self._pass((*at, "in-pass"), hold.in_pass, passes)
        before: tuple[int | None, Fraction] | None = None
        for index, zoom in enumerate(scene.keys.zooms):
            at = (*scene.at, "zooms", index)
            start = self.moment((*at, "at"), zoom.at, fragment, span)
            end = self.moment((*at, "until"), zoom.until, fragment, span) if zoom.until else span.end
            self._pass((*at, "in-pass"), zoom.in_pass, passes)
            if start is None or end is None:
                continue
            if end <= start:
                self.proof.add((*at, "until"), "the zoom ends before it starts", "write a later moment")
            if before and before[0] in (zoom.in_pass, None) and start < before[1]:
                self.proof.add(
                    (*at, "at"), "this zoom starts before the last one ends", "end the last one first"
                )
            before = (zoom.in_pass, end)

    def _views(self, scene: SceneAt, fragment: Fragment | None, span: Span) -> None:
        """When views come and go; seconds and moments are compared only with their like."""
        for index, view in enumerate(scene.keys.views):
            at, times = (*scene.at, "views", index), (view.since, view.until)
            for key, when in zip(("since", "until"), times, strict=True):
                if isinstance(when, Moment) and fragment is None:
                    self.proof.add((*at, key), f"nothing is played, so there is no {when}", "write a second")
                elif isinstance(when, Moment) and fragment is not None:
                    self.moment((*at, key), when, fragment, span)
            if fragment is not None and hasattr(view, "spot"):
                self._spot(at, view, sum(note.onset in span for note in fragment.notes))
            self._rows(at, view)
            self._stop(at, view, fragment.guitar if fragment else scene.episode.guitar.made())
            if _backwards(times, fragment):
                self.proof.add((*at, "until"), "the view goes before it comes", "write a later time")
        self._rooms(scene, fragment, span)

    def _rooms(self, scene: SceneAt, fragment: Fragment | None, span: Span) -> None:
        keys = ("arrangement", "look")
        sound = self.proof.sound((), "frame", "guitar") and self.proof.sound((*scene.at, "views"))
        if sound and all(self.proof.sound(at, *keys) for at in (scene.at, scene.at[:2], ())):
            arrangement, look = (str(flowing(key, *scene.levels) or "stack") for key in keys)
            self.rooms.check(scene.at, scene.keys, arrangement, look, fragment, span)

    def _spot(self, at: At, view: Any, notes: int) -> None:
        """A note that a view points at is counted within what the scene plays."""
        for key in ("spot", "spot_to"):
            number = getattr(view, key, None) or 0
            if not 0 <= number <= notes:
                wrong = f"there is no note {number} in what this scene plays"
                remedy = f"it has notes 1 to {notes}, counted from its first"
                self.proof.add((*at, key.replace("_", "-")), wrong, remedy)

    def _stop(self, at: At, view: Any, guitar: Guitar) -> None:
        """A string or a fret that a view names must be one of the guitar's."""
        for key, most in (("string", guitar.string_count), ("fret", guitar.highest_fret - 1)):
            number = getattr(view, key, None) or 0
            if not 0 <= number <= most:
                first = "1 (the highest)" if key == "string" else "0 (open)"
                self.proof.add((*at, key), f"there is no {key} {number} to show", f"choose {first} to {most}")

    def _rows(self, at: At, view: Any) -> None:
        """Rows are counted from 1; 0 leaves their number to the room."""
        if (getattr(view, "rows", 0) or 0) < 0:
            self.proof.add((*at, "rows"), f"there are no {view.rows} rows", "write 0 or more")

    def moment(self, at: At, moment: Moment, fragment: Fragment, span: Span) -> Fraction | None:
        """The beat of a moment that is played; None, and a fault, where it is not."""
        try:
            beat = beat_of(moment, fragment)
        except OutOfReach as error:
            self.proof.add(at, error.wrong, error.remedy)
            return None
        if not span.start <= beat <= span.end:
            self.proof.add(
                at, f"{moment} is not among the bars or notes that are played", "choose one that is"
            )
            return None
        return beat

    def _pass(self, at: At, number: int | None, passes: int) -> None:
        if number is not None and number > passes:
            self.proof.add(at, f"there is no pass {number}", f"the scene has {passes}: speeds times loops")

    def _zoom_targets(self, scene: SceneAt) -> None:
        if not self.proof.sound((*scene.at, "views")):
            return
        names = [view.show for view in scene.keys.views]
        for index, zoom in enumerate(scene.keys.zooms):
            self.proof.known((*scene.at, "zooms", index, "into"), "view of this scene", zoom.into, names)

    def _captions(self, scene: SceneAt) -> None:
        latest = Fraction(-1)
        for index, line in enumerate(scene.keys.spoken):
            if line.at is None:
                continue
            if line.at <= latest:
                self.proof.add(
                    (*scene.at, "spoken", index, "at"),
                    "these words come before the last ones",
                    "sort them by time",
                )
            latest = line.at
        self._reading_speed(scene)

    def _reading_speed(self, scene: SceneAt) -> None:
        for index, line in enumerate(captions(scene.keys.spoken)):
            if line.too_fast:
                wrong = f"these words go by at {line.words_a_minute:.0f} words a minute"
                remedy = f"above {FASTEST} few can read along: give them more time, or fewer words"
                self.proof.caution((*scene.at, "spoken", index), wrong, remedy)

    def _clip(self, scene: SceneAt, fragment: Fragment, span: Span) -> Fraction | None:
        """The seconds of the recording that are played; None where there is none that can be followed."""
        name = flowing("clip", *scene.levels)
        clip = scene.episode.clips.get(name) if name else None
        if clip is None or not self.proof.sound(("clips", name)):
            return None
        at: At = ("clips", name)
        try:
            beats = clip_map(clip, fragment)
        except OutOfReach as error:
            self._once(name, fragment, (*at, "marks"), error.wrong, error.remedy)
            return None
        if beats is None:
            wrong = f"nothing says where the beats of {name!r} lie"
            self._once(name, fragment, at, wrong, _aligning(self.proof, fragment.name, name))
            return None
        heard = Span("clip", beats(span.start), beats(span.end))
        self._inside_clip(scene, clip, heard)
        return heard.length

    def _once(self, clip: str, fragment: Fragment, at: At, wrong: str, remedy: str) -> None:
        """A fault of a clip with a fragment, told once however many scenes play them."""
        if (clip, fragment.name) not in self._pairs:
            self._pairs.add((clip, fragment.name))
            self.proof.add(at, wrong, remedy)

    def _inside_clip(self, scene: SceneAt, clip: ClipKeys, heard: Span) -> None:
        length = file_length(self.proof.script.folder / clip.file)
        start = clip.span[0] if clip.span else Fraction(0)
        end = clip.span[1] if clip.span else length
        if heard.start >= start and (end is None or heard.end <= end):
            return
        until = f" to {float(end):.3f}" if end is not None else ""
        self.proof.add(
            scene.place_of("clip"),
            f"the notes lie at {float(heard.start):.3f} to {float(heard.end):.3f} s, outside the clip",
            f"it goes from {float(start):.3f}{until} s: play fewer bars, or mend its span or its marks",
        )


def _aligning(proof: Proof, fragment: str, clip: str) -> str:
    """The remedy for a clip that nothing says how to follow."""
    command = f"fretscene align {proof.script.source.file} {fragment} {clip} --keep"
    return f"`{command}` finds them and writes them here; or write a tempo"


def _passes(scene: SceneAt) -> int:
    return len(flowing("speeds", *scene.levels)) * int(flowing("loops", *scene.levels))


def _backwards(times: tuple[When, When], fragment: Fragment | None) -> bool:
    since, until = times
    if isinstance(since, Fraction) and isinstance(until, Fraction):
        return until <= since
    if fragment is None or not (isinstance(since, Moment) and isinstance(until, Moment)):
        return False
    try:
        return beat_of(until, fragment) <= beat_of(since, fragment)
    except OutOfReach:
        return False
