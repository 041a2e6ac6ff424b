"""Fragments made up by hypothesis, with everything in them that tab text can say."""

from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, Phase
from hypothesis import strategies as st

from pipeline.errors import Place
from pipeline.music.clues import SIGN_OF
from pipeline.music.fragment import ClueMark, Fragment, Measure, Repeat
from pipeline.music.guitar import STANDARD, Guitar
from pipeline.music.meter import read_meter
from pipeline.music.note import BendPoint, Harmonic, Note

GUITARS = (
    Guitar(),
    Guitar(capo=2),
    Guitar((62, 57, 54, 50, 45, 38)),
    Guitar((43, 38, 33, 28)),
    Guitar((*STANDARD, 35, 30)),
)
METERS = tuple(map(read_meter, ("4/4", "3/4", "6/8", "5/8", "2/4", "(2+2+3)/8", "(3+2)/8", "(2+1)/4")))
SHARES = (1, 1, 2, 2, 3, 4, 4, 5, 6, 7, 8, 12)
F = Fraction

QUICK: dict[str, Any] = {
    "deadline": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
    "phases": (Phase.explicit, Phase.generate),
}
"""Settings for tests over whole fragments: the same examples each time, and no search for smaller ones."""


def at(row: int, column: int) -> Place:
    return Place("lesson.yaml", row + 1, column + 1)


@st.composite
def measures(draw: st.DrawFn) -> tuple[Measure, ...]:
    """Up to three measures, the first perhaps a pick-up, others perhaps cut short."""
    found, start = [], F(0)
    meter = draw(st.sampled_from(METERS))
    for index in range(draw(st.integers(1, 3))):
        meter = draw(st.sampled_from((meter, meter, *METERS)))
        full = meter.length
        cut = draw(st.sampled_from((F(0), F(0), F(0), F(1), F(1, 2), F(4, 3), full - F(1, 2))))
        length = full - cut if cut < full else full
        found.append(Measure(start, length, meter.beats, meter.unit, meter.groups))
        start += length
        del index
    return tuple(found)


@st.composite
def onsets(draw: st.DrawFn, spans: tuple[Measure, ...]) -> list[Fraction]:
    """Moments inside the measures, count by count, each count divided in its own way."""
    moments = set()
    for measure in spans:
        time = measure.start
        while time < measure.end:
            shares = draw(st.sampled_from(SHARES))
            step = min(measure.count, measure.end - time) / shares
            moments |= {time + step * share for share in range(shares) if draw(st.booleans())}
            time += min(measure.count, measure.end - time)
    return sorted(moments)


@st.composite
def bends(draw: st.DrawFn) -> tuple[BendPoint, ...]:
    heights = draw(st.lists(st.integers(0, 8), min_size=1, max_size=4))
    points = [BendPoint(F(0), F(draw(st.sampled_from((0, 0, 1, 4))), 2))]
    for index, height in enumerate(heights, 1):
        share = F(index, len(heights) + draw(st.sampled_from((1, 1, 2))))
        points.append(BendPoint(max(share, points[-1].at), F(height, 2)))
    return tuple(points)


@st.composite
def features(draw: st.DrawFn, before: Note | None, fret: int, grace: bool) -> dict[str, Any]:
    """What the hands do to a note, within what the instrument allows."""
    found: dict[str, Any] = {}
    known = before is not None and before.fret is not None
    attacks = ["pick", "pick", "pick", "hammer", "tap"]
    attacks += ["slide"] if before else []
    attacks += ["pull"] if known and before.fret > fret else []
    attacks += ["tie"] if known and before.fret == fret and not grace else []
    found["attack"] = draw(st.sampled_from(attacks))
    if found["attack"] == "pick":
        found["shift_slide"] = before is not None and draw(st.integers(0, 7)) == 0
    for flag in ("ghost", "palm_mute", "let_ring", "accent", "staccato", "tremolo"):
        found[flag] = draw(st.integers(0, 5)) == 0
    found["vibrato"] = draw(st.sampled_from(("none", "none", "narrow", "wide")))
    found["slide_in"] = draw(st.sampled_from((None, None, None, "below", "above")))
    found["slide_out"] = draw(st.sampled_from((None, None, None, "up", "down")))
    kind = draw(st.sampled_from(("", "", "", "", "artificial", "pinch", "bend", "dead")))
    if kind == "bend":
        found["bend"] = draw(bends())
    elif kind == "dead":
        found["dead"] = True
    elif kind:
        touch = draw(st.sampled_from((F(fret + 12), F(fret + 7), F("7.5") + fret, None)))
        found["harmonic"] = Harmonic(kind, draw(st.integers(2, 7)), touch)
    return found


@st.composite
def fragments(draw: st.DrawFn) -> Fragment:
    guitar = draw(st.sampled_from(GUITARS))
    bars = draw(measures())
    length = bars[-1].end
    times = draw(onsets(bars))
    latest: dict[int, Note] = {}
    notes: list[Note] = []
    position: int | None = None
    for time, after in zip(times, [*times[1:], length][: len(times)], strict=True):
        position = draw(st.sampled_from((position, position, position, None, 5, 12)))
        stroke = draw(st.sampled_from((None, "down", "up")))
        strings = sorted(draw(st.sets(st.integers(1, guitar.string_count), min_size=1, max_size=3)))
        graced = draw(st.integers(0, 4)) == 0
        for string in ([strings[0]] if graced else []) + strings:
            grace = graced and string == strings[0]
            graced = graced and not grace
            fret = draw(st.integers(0, 22))
            fields = draw(features(latest.get(string), fret, grace))
            fields["finger"] = draw(st.sampled_from((None, 0, 1, 2, 3, 4)))
            fields["stroke"] = stroke if fields["attack"] == "pick" else None
            end = time if grace else draw(st.sampled_from((after, after, (time + after) / 2, after + 1)))
            pitch: int | None = guitar.pitch(string, fret)
            if draw(st.integers(0, 20)) == 0 and fields["attack"] == "pick":
                fields |= {"bend": (), "dead": False, "harmonic": Harmonic("natural", 2, F(12))}
                fret, pitch = 0, guitar.pitch(string, 0)
            elif fields.get("dead") and fields["attack"] in ("pick", "hammer") and draw(st.booleans()):
                fret = pitch = None  # type: ignore[assignment]
            note = Note(time, end - time, pitch, string, fret, position=position, grace=grace, **fields)
            notes.append(note)
            latest[string] = note
    notes = _trimmed(notes, length)
    return Fragment(
        "made up", guitar, tuple(notes), bars, F(100), draw(repeats(len(bars))), draw(clues(notes))
    )


def _trimmed(notes: list[Note], length: Fraction) -> list[Note]:
    """No note outlasts the next on its string, or the fragment; one that is tied lasts until the tie."""
    found: list[Note] = []
    following: dict[int | None, Note] = {}
    for note in reversed(notes):
        if not note.grace:
            after = following.get(note.string)
            end = min(note.end, after.onset if after else length)
            end = after.onset if after and after.attack == "tie" else end
            note = note.but(duration=end - note.onset)
            following[note.string] = note
        found.append(note)
    return found[::-1]


@st.composite
def repeats(draw: st.DrawFn, bars: int) -> tuple[Repeat, ...]:
    if draw(st.booleans()):
        return ()
    cut = draw(st.integers(0, bars - 1))
    found = [Repeat(draw(st.integers(0, cut)), cut, draw(st.integers(2, 12)))]
    if cut + 1 < bars and draw(st.booleans()):
        found.append(Repeat(cut + 1, bars - 1))
    return tuple(found)


@st.composite
def clues(draw: st.DrawFn, notes: list[Note]) -> tuple[ClueMark, ...]:
    if not notes:
        return ()
    marks = st.builds(
        ClueMark,
        st.integers(0, len(notes) - 1),
        st.sampled_from(sorted(SIGN_OF)),
        st.sampled_from(("", "5", "12", "near the bridge")),
        st.sampled_from((1.0, 0.5, 0.3)),
    )
    return tuple(sorted(draw(st.lists(marks, max_size=4)), key=lambda mark: mark.note))
