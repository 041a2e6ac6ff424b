"""Breaking words into lines and lines into cards, so that nothing is cut off and nothing gets too small."""

from dataclasses import dataclass

from pipeline.drawing.typeface import printable, text_width


@dataclass(frozen=True)
class Card:
    """Lines that stand on the screen together, at their type sizes."""

    heading: tuple[str, ...]
    lines: tuple[str, ...]
    heading_size: float
    size: float


def wrapped(text: str, width: float, face: str, size: float) -> list[str]:
    """The text in lines no wider than `width`; a word that is wider alone is broken.

    Line breaks stay; an empty line stays as one.
    """
    lines: list[str] = []
    for paragraph in text.strip("\n").split("\n"):
        line = ""
        for word in printable(paragraph).split():
            for piece in _broken(word, width, face, size):
                longer = f"{line} {piece}" if line else piece
                if line and text_width(longer, face, size) > width:
                    lines.append(line)
                    line = piece
                else:
                    line = longer
        lines.append(line)
    return lines


def _broken(word: str, width: float, face: str, size: float) -> list[str]:
    """The word, in pieces that fit where it does not."""
    pieces: list[str] = []
    while len(word) > 1 and text_width(word, face, size) > width:
        end = len(word) - 1
        while end > 1 and text_width(word[:end], face, size) > width:
            end -= 1
        pieces.append(word[:end])
        word = word[end:]
    return [*pieces, word]


def balanced(text: str, width: float, face: str, size: float) -> list[str]:
    """Wrapped into as few lines as `width` allows, then as evenly as these lines can be."""
    lines = wrapped(text, width, face, size)
    low, high = width * 0.3, width
    for _ in range(12):
        middle = (low + high) / 2
        if len(wrapped(text, middle, face, size)) > len(lines):
            low = middle
        else:
            high = middle
    return wrapped(text, high, face, size)


def cards_of(
    text: str,
    heading: str,
    width: float,
    height: float,
    size: float,
    face: str,
    heading_size: float,
    heading_face: str,
    least: float,
    leading: float,
) -> tuple[Card, ...]:
    """Set words into a room: one card at the largest size that fits, else as many as the least size needs.

    Sizes and the room are pixels; `leading` is the line pitch in type sizes.
    """
    scale = 1.0
    while True:
        now = max(least, size * scale)
        head_now = max(least, heading_size * scale)
        head = balanced(heading, width, heading_face, head_now) if heading.strip() else []
        lines = balanced(text, width, face, now) if text.strip() else []
        tall = (len(head) * head_now + len(lines) * now) * leading
        if tall <= height or (now <= least and head_now <= least):
            break
        scale *= 0.94
    return _dealt(tuple(head), tuple(lines), height, head_now, now, leading)


def _dealt(head: tuple[str, ...], lines: tuple[str, ...], height: float, head_size: float, size: float,
           leading: float) -> tuple[Card, ...]:  # fmt: skip
    """Lines dealt onto cards of equal length; the heading stays on every card while it leaves room, else it
    has the first card for itself."""
    room = height - len(head) * head_size * leading
    a_card = int(room / (size * leading) + 1e-6)
    if a_card < 1 and head and lines:
        first = Card(head, (), head_size, size)
        return (first, *_dealt((), lines, height, head_size, size, leading))
    a_card = max(1, a_card)
    count = max(1, -(-len(lines) // a_card))
    each = -(-len(lines) // count) if lines else 0
    dealt = [lines[i * each : (i + 1) * each] for i in range(count)]
    return tuple(Card(head, tuple(card), head_size, size) for card in dealt if card or head)


def widest_line(card: Card, face: str, heading_face: str) -> float:
    """The width of a card's widest line in pixels."""
    widths = [text_width(line, face, card.size) for line in card.lines]
    widths += [text_width(line, heading_face, card.heading_size) for line in card.heading]
    return max(widths, default=0.0)
