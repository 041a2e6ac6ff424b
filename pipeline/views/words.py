"""The words view: a title, a call-out, a lower third or plain text, wrapped and never cut off."""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from pipeline.drawing.outline import rect, rounded
from pipeline.drawing.picture import Box, Colour, Group, Mark, Path, Picture, Text
from pipeline.drawing.typeface import cap_height
from pipeline.views.glide import eased
from pipeline.views.stage import Stage
from pipeline.views.wrapping import Card, cards_of, widest_line, wrapped

LEADING = 1.28
"""From one line to the next, in type sizes."""
SHADES = 16


@dataclass(frozen=True)
class Words:
    """Words on the screen.

    kind      `title` (large, on the frame itself), `call-out` (a boxed remark), `lower-third` (a name and a
              line about it, low on the left) or `plain` (a paragraph)
    text      the words; a line break starts a new line, an empty line a new paragraph
    heading   a shorter line over them: the segment's number, a name
    align     `left` or `centre`; titles are centred where nothing is said
    panel     a ground under the words; titles and paragraphs have none where nothing is said
    fade      whether they come and go gently

    Words that do not fit are set smaller, down to the smallest legible size; what does not fit then follows
    on further cards that share the scene's time by their length.
    """

    text: str
    kind: Literal["title", "call-out", "lower-third", "plain"] = "plain"
    heading: str = ""
    align: Literal["", "left", "centre"] = ""
    panel: bool | None = None
    fade: bool = True

    def picture(self, stage: Stage, t: Fraction) -> Picture:
        """The words at scene second t."""
        deck = deck_of(self, stage)
        share = float(min(max(t / stage.duration, Fraction(0)), Fraction(1))) if stage.duration else 0.0
        place = next((i for i, end in enumerate(deck.ends) if share < end), len(deck.cards) - 1)
        shade = _shade(self, stage, t) if self.fade else 1.0
        marks: list[Mark] = []
        if shade > 0 and deck.cards:
            marks.append(_faded(self, stage, place, shade))
        return Picture(float(stage.width), float(stage.height), tuple(marks))

    def least_height(self, stage: Stage) -> float:
        """A card of one line at the smallest legible size."""
        return stage.smallest_text * LEADING + 2 * _padding(self, stage)

    def easy_height(self, stage: Stage) -> float:
        """All words on one card, at the smallest legible size."""
        return least_card(self, stage) + 2 * _padding(self, stage)

    def left_out(self, stage: Stage) -> tuple[str, ...]:
        """Nothing: what one card does not hold follows on others."""
        return ()

    @property
    def grounded(self) -> bool:
        """Whether a ground lies under the words."""
        return self.kind in ("call-out", "lower-third") if self.panel is None else self.panel

    @property
    def centred(self) -> bool:
        return self.align == "centre" or (not self.align and self.kind == "title")


@dataclass(frozen=True)
class Style:
    """Type sizes of a kind, in pixels: the words, the heading, and their faces."""

    size: float
    face: str
    heading_size: float
    heading_face: str
    heading_role: str


def style_of(view: Words, stage: Stage) -> Style:
    """The look's sizes for a kind of words."""
    least = stage.smallest_text
    sizes = {name: max(least, stage.size(name)) for name in ("title", "heading", "body", "small")}
    if view.kind == "title":
        return Style(sizes["title"], "bold", sizes["heading"], "semibold", "accent")
    if view.kind == "lower-third":
        return Style(sizes["body"], "regular", sizes["heading"], "bold", "ink")
    heading = sizes["heading"] if view.kind == "plain" else sizes["body"]
    return Style(sizes["body"], "regular", heading, "bold", "ink" if view.kind == "plain" else "accent")


@dataclass(frozen=True)
class Deck:
    """The cards of a text and the share of the scene at which each ends."""

    cards: tuple[Card, ...]
    ends: tuple[float, ...]
    box: Box


def _padding(view: Words, stage: Stage) -> float:
    return stage.size("space") * (0.85 if view.grounded else 0.4)


def _rule(view: Words, stage: Stage) -> float:
    """Room for the upright rule of a lower third or call-out."""
    return stage.line("strong") * 3.2 if view.kind in ("lower-third", "call-out") else 0.0


def _line_room(view: Words, stage: Stage) -> float:
    return stage.width - 2 * _padding(view, stage) - _rule(view, stage)


@lru_cache(maxsize=64)
def least_card(view: Words, stage: Stage) -> float:
    """The height of all words on one card at the smallest legible size."""
    style, size, width = style_of(view, stage), stage.smallest_text, _line_room(view, stage)
    pairs = ((view.text, style.face), (view.heading, style.heading_face))
    lines = sum(len(wrapped(text, width, face, size)) for text, face in pairs if text.strip())
    return lines * size * LEADING


@lru_cache(maxsize=64)
def deck_of(view: Words, stage: Stage) -> Deck:
    """Set the words: in cards of lines, at the largest size down from the look's that needs one card."""
    style, pad = style_of(view, stage), _padding(view, stage)
    room = Box(pad + _rule(view, stage), pad, _line_room(view, stage), stage.height - 2 * pad)
    cards = cards_of(view.text, view.heading, room.width, room.height, style.size, style.face,
                     style.heading_size, style.heading_face, stage.smallest_text, LEADING)  # fmt: skip
    lengths = [max(1, sum(len(line) for line in card.lines or card.heading)) for card in cards]
    ends = [sum(lengths[: i + 1]) / max(1, sum(lengths)) for i in range(len(lengths))]
    return Deck(cards, tuple(ends), room)


def _shade(view: Words, stage: Stage, t: Fraction) -> float:
    fade = stage.look.seconds("fade")
    if fade <= 0:
        return 1.0
    fade = min(fade, float(stage.duration) / 3)
    came = 1.0 if t >= fade else eased(float(t) / fade)
    left = float(stage.duration - t)
    going = 1.0 if left >= fade else eased(left / fade)
    return round(min(came, going) * SHADES) / SHADES


@lru_cache(maxsize=256)
def _faded(view: Words, stage: Stage, place: int, shade: float) -> Group:
    """A card at a shade; a lower third also slides in a little."""
    card = _card(view, stage, place)
    slide = -(1 - shade) * stage.size("space") * 0.5 if view.kind == "lower-third" else 0.0
    return Group((card,), (1.0, 0.0, 0.0, 1.0, slide, 0.0), shade, name="words")


def _heights(card: Card) -> tuple[float, float]:
    """Height of the heading with its room, and of the lines."""
    head = sum(card.heading_size * LEADING for _ in card.heading)
    return head, card.size * LEADING * len(card.lines)


@lru_cache(maxsize=64)
def _card(view: Words, stage: Stage, place: int) -> Group:
    deck, style = deck_of(view, stage), style_of(view, stage)
    card, room = deck.cards[place], deck.box
    head, body = _heights(card)
    wide = widest_line(card, style.face, style.heading_face)
    top = _top(view, room, head + body)
    left = room.x + (room.width - wide) / 2 if view.centred else room.x
    block = Box(left, top, wide, head + body)
    marks: list[Mark] = _ground(view, stage, block)
    marks += _lines(view, stage, style, card, block)
    if view.kind == "title":
        marks.append(_title_rule(view, stage, block, room))
    return Group(tuple(marks), name=view.kind)


def _top(view: Words, room: Box, tall: float) -> float:
    if view.kind == "lower-third":
        return room.bottom - tall
    if view.kind == "plain" and not view.centred:
        return room.y
    return room.y + (room.height - tall) / 2


def _ground(view: Words, stage: Stage, block: Box) -> list[Mark]:
    """The ground and the upright rule."""
    look, pad, marks = stage.look, _padding(view, stage), list[Mark]()
    rule = _rule(view, stage)
    box = Box(block.x - pad - rule, block.y - pad, block.width + 2 * pad + rule, block.height + 2 * pad)
    if view.grounded:
        role = "scrim" if view.kind == "lower-third" else "panel"
        marks.append(Path(rounded(box, stage.size("corner")), look.colour(role), name="ground of words"))
    if rule:
        bar = Box(box.x + pad * 0.55, block.y + pad * 0.1, stage.line("strong"), block.height - pad * 0.2)
        marks.append(Path(rounded(bar, bar.width / 2), look.colour("accent"), name="rule"))
    return marks


def _title_rule(view: Words, stage: Stage, block: Box, room: Box) -> Mark:
    """A short heavy rule under a title."""
    tall, wide = stage.line("strong"), min(block.width, stage.size("title") * 1.6)
    x = room.x + (room.width - wide) / 2 if view.centred else block.x
    y = min(block.bottom + stage.size("gap"), stage.height - tall)
    return Path(rect(Box(x, y, wide, tall)), stage.look.colour("accent"), name="rule")


def _lines(view: Words, stage: Stage, style: Style, card: Card, block: Box) -> list[Mark]:
    look, y = stage.look, block.y
    anchor: Literal["start", "middle"] = "middle" if view.centred else "start"
    x = block.centre[0] if view.centred else block.x
    marks: list[Mark] = []
    body_role = "ink-soft" if view.kind == "lower-third" and card.heading else "ink"
    parts = ((card.heading, card.heading_size, style.heading_face, style.heading_role, "heading"),
             (card.lines, card.size, style.face, body_role, "words"))  # fmt: skip
    for lines, size, face, role, name in parts:
        for line in lines:
            y += size * LEADING
            if line:
                marks.append(_line(x, y, line, size, look.colour(role), face, anchor, name))
    return marks


def _line(x: float, bottom: float, line: str, size: float, fill: Colour, face: str,
          anchor: Literal["start", "middle"], name: str) -> Text:  # fmt: skip
    baseline = bottom - (size * LEADING - cap_height(face, size)) / 2
    return Text(x, baseline, line, size, fill, face, anchor, name)
