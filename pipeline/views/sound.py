"""The sound view: the excerpt's waveform and spectrogram, the notes marked, a spot to look at."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import line, polygon, rect, rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, Picture, Stroke, translate
from pipeline.drawing.typeface import text_width
from pipeline.music.pitch import pitch_class_name
from pipeline.views.brush import panel
from pipeline.views.signs import centred
from pipeline.views.sounding import moment_at, stage_line
from pipeline.views.soundmarks import Clip, scale_marks, scale_width
from pipeline.views.stage import Stage
from pipeline.views.wrapping import wrapped

LEAST_PART = 2.0
"""The least height of the wave or the spectrogram, in small type sizes."""


@dataclass(frozen=True)
class Sound:
    """The sound of the scene's excerpt as a picture, from left to right, with a cursor.

    parts      `both`, or only the `wave` or the `spectrogram`
    labels     what stands over each onset: the note's `number` in the phrase, its `fret`, `name`, or `none`
    spot       the number of a note to point at, counted from 1 in what the scene plays; 0 points at none
    spot-to    the last note of the spot; 0 takes the one note
    remark     words about the spot
    panel      a ground of the look's colour under the view
    """

    parts: Literal["both", "wave", "spectrogram"] = "both"
    labels: Literal["number", "fret", "name", "none"] = "name"
    spot: int = 0
    spot_to: int = 0
    remark: str = ""
    panel: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The sound at scene second t."""
        marks: list[Mark] = [panel(stage)] if self.panel else []
        plan = plan_of(self, stage)
        if plan is None:
            marks.append(_silence(stage))
        else:
            marks.append(_standing(self, stage))
            marks.extend(_lit(self, stage, i) for i in moment_at(stage, t).sounding)
            if self.spot:
                marks.append(_spot(self, stage))
            at = heard_second(stage, t)
            if at is not None:
                marks.append(translate((_cursor(self, stage),), plan.clip.x(at), 0.0, "cursor"))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """The labels, each part a few lines high, and the remark."""
        lines = len(_remark_lines(self, stage))
        words = (lines * 1.25 + 0.35 if lines else 0.0) + (1.25 if self.labels != "none" else 0.0)
        parts = LEAST_PART * (2 if self.parts == "both" else 1)
        return stage.size("gap") * 3.6 + (words + parts) * stage.small_type


@dataclass(frozen=True, eq=False)
class Plan:
    """Where things are; a box is None where its part is not shown."""

    clip: Clip
    wave: Box | None
    spectrum: Box | None
    labels_y: float
    top: float
    bottom: float
    small: float
    remark_y: float


def heard_second(stage: Stage, t: Fraction) -> Fraction | None:
    """The second of the recording that is heard at t; None between passes."""
    if stage.heard is None:
        return None
    for one, moments in zip(stage.passes, stage.heard.moments, strict=False):
        if t in one.span:
            return moments.inverse(t)
    return None


def note_second(stage: Stage, beat: Fraction) -> Fraction | None:
    """The second of the recording at which a beat is heard first."""
    if stage.heard is None:
        return None
    for one, moments in zip(stage.passes, stage.heard.moments, strict=False):
        if one.beats.start <= beat <= one.beats.end:
            return moments.inverse(one.moments(beat))
    return None


@lru_cache(maxsize=16)
def plan_of(view: Sound, stage: Stage) -> Plan | None:
    """Lay the parts out from the top: labels, waveform, spectrogram, remark."""
    heard = stage.heard
    if heard is None or not heard.samples:
        return None
    small = stage.small_type
    edge, side, gap = stage.size("gap") * 1.3, stage.size("space") * 0.8, stage.size("gap")
    scale = scale_width(small) if view.parts != "wave" else 0.0
    left, right = side + scale, stage.width - side
    labels = small * 1.25 if view.labels != "none" else 0.0
    lines = _remark_lines(view, stage)
    foot = (len(lines) * 1.25 + 0.35) * small if lines else 0.0
    top, bottom = edge + labels, stage.height - edge - foot
    room, wide = bottom - top, right - left
    share = {"both": 0.36, "wave": 1.0, "spectrogram": 0.0}[view.parts]
    tall = room * share - (gap / 2 if view.parts == "both" else 0.0)
    wave = Box(left, top, wide, tall) if share > 0 else None
    start = top + (tall + gap if share > 0 else 0.0)
    spectrum = Box(left, start, wide, bottom - start) if share < 1 else None
    clip = Clip(heard, left, right)
    return Plan(clip, wave, spectrum, edge + labels * 0.46, top, bottom, small, bottom + small * 0.35)


def _remark_lines(view: Sound, stage: Stage) -> list[str]:
    small = stage.small_type
    width = stage.width - stage.size("space") * 2.4
    return wrapped(view.remark, width, "regular", small) if view.remark.strip() else []


def _silence(stage: Stage) -> Mark:
    """What is shown where the scene has no recording: a level line."""
    y, side = stage.height / 2, stage.size("space")
    stroke = Stroke(stage.look.colour("wave"), stage.line("ring"))
    return Path(line(side, y, stage.width - side, y), stroke=stroke, name="silence")


@lru_cache(maxsize=8)
def _standing(view: Sound, stage: Stage) -> Group:
    from pipeline.views.soundshapes import spectrum_marks, wave_marks

    plan = plan_of(view, stage)
    assert plan is not None
    marks: list[Mark] = []
    if plan.spectrum is not None:
        marks += spectrum_marks(stage, plan.clip, plan.spectrum)
        marks += scale_marks(stage, plan.spectrum, plan.small)
    if plan.wave is not None:
        marks += wave_marks(stage, plan.clip, plan.wave)
    return Group((*marks, *_onsets(view, stage, plan)), name="sound")


def label_of(view: Sound, stage: Stage, index: int) -> str:
    """What stands over a note's onset."""
    assert stage.fragment is not None
    note = stage.fragment.notes[index]
    if view.labels == "number":
        return str(index + 1)
    if view.labels == "fret":
        return "" if note.fret is None else str(note.fret)
    if note.pitch is None or view.labels == "none":
        return ""
    return pitch_class_name(note.pitch, stage.fragment.flats).replace("#", "♯").replace("b", "♭")


def _marked(stage: Stage) -> list[tuple[int, float]]:
    """The first note of every column with the second it is heard at."""
    line_, found = stage_line(stage), []
    for column in line_.columns:
        second = note_second(stage, line_.starts[column[0]])
        if second is not None:
            found.append((column[0], float(second)))
    return found


def _onsets(view: Sound, stage: Stage, plan: Plan) -> list[Mark]:
    """A thin line at each onset, and its label where it touches no other."""
    marks: list[Mark] = []
    soft = stage.look.colour("ink-soft")
    labelled = _labelled(view, stage, plan)
    for index, second in _marked(stage):
        x = plan.clip.x(Fraction(second))
        stroke = Stroke(soft.with_alpha(0.5), stage.line("hair"), False)
        marks.append(Path(line(x, plan.top, x, plan.bottom), stroke=stroke, name=f"onset {index}"))
        if index in labelled:
            label, x = label_of(view, stage, index), labelled[index]
            marks.append(centred(label, x, plan.labels_y, plan.small, soft, "regular", f"label {index}"))
    return marks


def _labelled(view: Sound, stage: Stage, plan: Plan) -> dict[int, float]:
    """The notes that have room for a label, with its middle; what the remark is about comes first."""
    spot = range(view.spot - 1, max(view.spot, view.spot_to))
    found = dict[int, float]()
    taken: list[tuple[float, float]] = []
    for index, second in sorted(_marked(stage), key=lambda marked: (marked[0] not in spot, marked[1])):
        label = label_of(view, stage, index)
        half = text_width(label, "regular", plan.small) / 2 + plan.small * 0.12
        x = max(half, min(plan.clip.x(Fraction(second)), stage.width - half))
        if label and all(x + half <= left or right <= x - half for left, right in taken):
            taken.append((x - half, x + half))
            found[index] = x
    return found


def _note_box(stage: Stage, plan: Plan, first: int, last: int) -> Box | None:
    """From one note's onset to another's end."""
    line_ = stage_line(stage)
    start, end = note_second(stage, line_.starts[first]), note_second(stage, line_.ends[last])
    if start is None:
        return None
    left = plan.clip.x(start)
    right = plan.clip.x(end) if end is not None else plan.clip.right
    return Box(left, plan.top, max(right - left, stage.line("cursor")), plan.bottom - plan.top)


@lru_cache(maxsize=512)
def _lit(view: Sound, stage: Stage, index: int) -> Group:
    """The stretch of a sounding note, and its label reversed."""
    plan = plan_of(view, stage)
    assert plan is not None
    box = _note_box(stage, plan, index, index)
    if box is None:
        return Group((), name=f"note {index} sounding")
    lit, weight = stage.look.colour("sounding"), stage.line("ring")
    marks: list[Mark] = [
        Path(rect(box), lit.with_alpha(0.2), name="lit"),
        Path(rect(Box(box.x, box.y - weight, box.width, weight)), lit, name="lit edge"),
    ]
    label = label_of(view, stage, index)
    if label:
        wide = text_width(label, "black", plan.small) + plan.small * 0.5
        x = max(wide / 2, min(box.x, stage.width - wide / 2))
        plate = Box(x - wide / 2, plan.labels_y - plan.small * 0.48, wide, plan.small * 0.96)
        around = rounded(plate.inset(-plan.small * 0.14), plan.small * 0.3)
        marks.append(Path(around, stage.look.colour("panel"), name="clearing"))
        marks.append(Path(rounded(plate, plan.small * 0.26), lit, name="lit plate"))
        marks.append(centred(label, x, plan.labels_y, plan.small, stage.look.colour("sounding-text"), "black",
                             f"label {index}"))  # fmt: skip
    return Group(tuple(marks), name=f"note {index} sounding")


@lru_cache(maxsize=32)
def _cursor(view: Sound, stage: Stage) -> Group:
    """A line through all parts, set off from loud sound, with a small head; its middle is at x = 0."""
    plan = plan_of(view, stage)
    assert plan is not None
    weight, head = stage.line("cursor"), plan.small * 0.3
    bar = rect(Box(-weight / 2, plan.top, weight, plan.bottom - plan.top))
    edge = rect(Box(-weight * 1.25, plan.top, weight * 2.5, plan.bottom - plan.top))
    tip = polygon(((-head, plan.bottom + head * 0.9), (head, plan.bottom + head * 0.9), (0.0, plan.bottom)))
    accent, panel = stage.look.colour("accent"), stage.look.colour("panel")
    clear = Path(edge, panel.with_alpha(0.85), name="cursor edge")
    return Group((clear, Path(bar, accent, name="cursor line"), Path(tip, accent, name="cursor head")))


@lru_cache(maxsize=32)
def _spot(view: Sound, stage: Stage) -> Group:
    """A frame round the notes that the remark is about, set off from loud sound, and the remark."""
    plan = plan_of(view, stage)
    assert plan is not None
    assert stage.fragment is not None
    count = len(stage.fragment.notes)
    first, last = view.spot - 1, max(view.spot, view.spot_to) - 1
    marks: list[Mark] = []
    box = _note_box(stage, plan, first, last) if last < count else None
    if box is not None:
        weight = stage.line("ring") * 1.2
        grown = Box(box.x - weight, box.y + weight / 2, box.width + 2 * weight, box.height - weight)
        frame = rounded(grown, stage.size("corner") * 0.6)
        for role, wide, name in (("panel", weight * 2.6, "spot edge"), ("differ", weight, "spot")):
            marks.append(Path(frame, stroke=Stroke(stage.look.colour(role), wide), name=name))
    for number, words in enumerate(_remark_lines(view, stage)):
        y = plan.remark_y + plan.small * 1.25 * (number + 0.5)
        wide = text_width(words, "regular", plan.small) / 2
        middle = box.centre[0] if box is not None else stage.width / 2
        x = max(stage.size("space") + wide, min(middle, stage.width - stage.size("space") - wide))
        marks.append(
            centred(words, x, y, plan.small, stage.look.colour("ink"), "regular", f"remark {number}")
        )
    return Group(tuple(marks), name="spot")
