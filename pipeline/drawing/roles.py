"""The roles that every look fills: what a colour, a size, a line or a time is for.

Sizes and lines are shares of the frame height, times are seconds. Views ask for roles and never for a hue or
a number, so that one file changes the whole picture.
"""

COLOURS = {
    "ground": "the frame itself, where it is opaque",
    "panel": "the ground of a view that stands on one",
    "scrim": "laid under words over a camera picture; the one colour that may be see-through",
    "ink": "words and digits that matter now",
    "ink-soft": "words that explain",
    "faint": "rules that only divide space and carry no meaning",
    "string": "strings of the guitar and lines of tab and staff",
    "fret-wire": "frets",
    "nut": "the nut, the bridge, the strong lines of a picture",
    "inlay": "position dots of the neck",
    "bar-line": "bar lines and beams",
    "note": "a note at rest: the fill of its mark",
    "note-text": "what is written on such a mark",
    "sounding": "the note that sounds now",
    "sounding-text": "what is written on it",
    "next": "what comes next: an outline",
    "past": "what has sounded",
    "accent": "the cursor, rules of titles, what to look at",
    "hand": "where the fretting hand is",
    "finger": "names of fingers, beside or on the hand",
    "stroke": "pick strokes",
    "warn": "cautions and conflicts",
    "differ": "where two readings differ",
    "reading-a": "the first reading",
    "reading-b": "the second reading",
    "reading-c": "the third reading",
    "wave": "the waveform",
    "level-low": "the spectrogram, soft",
    "level-middle": "the spectrogram, middling",
    "level-high": "the spectrogram, loud",
}
SIZES = {
    "title": "type size of titles",
    "heading": "type size of headings",
    "body": "type size of running words",
    "small": "type size of captions and labels: the smallest words",
    "digit": "type size of fret digits in tab",
    "dot-digit": "type size of what is written on a note of the neck",
    "finger": "type size of finger names",
    "count": "type size of beats and bar numbers",
    "margin": "free room along the frame's edges (safe area for titles)",
    "gap": "room between things that belong together",
    "space": "room between things that do not",
    "string-gap": "from one tab line to the next",
    "staff-gap": "from one staff line to the next",
    "note-radius": "radius of a note on the neck",
    "corner": "radius of round corners",
    "stroke-mark": "height of a pick stroke's sign",
}
LINES = {
    "hair": "rules that only divide",
    "string": "tab lines and the thinnest string",
    "string-thick": "the thickest string",
    "bar": "bar lines",
    "fret": "fret wire",
    "ring": "outlines of notes and of the hand",
    "stem": "stems of rhythm",
    "beam": "beams of rhythm",
    "bow": "the middle of a slur",
    "cursor": "the cursor",
    "strong": "nut, title rule, emphasis",
}
MOTION = {
    "arrive": "how early a thing starts to come before it sounds",
    "leave": "how long it takes to go",
    "glide": "how long the hand takes to shift, where the music leaves the time",
    "fade": "fades of words",
    "page": "turning a page of tab",
}
SMALLEST_TEXT = 1 / 30
SMALLEST_CAPS = 0.035
"""Height of fret digits: capitals of at least 20 lines of 576 (checked against Ofcom's figure)."""
ON_TEXT = (
    ("ink", "ground"), ("ink", "panel"), ("ink-soft", "ground"), ("ink-soft", "panel"), ("ink", "scrim"),
    ("note-text", "note"), ("sounding-text", "sounding"), ("past", "ground"), ("past", "panel"),
    ("finger", "ground"), ("finger", "panel"), ("accent", "ground"), ("accent", "panel"),
    ("warn", "ground"), ("warn", "panel"), ("stroke", "ground"), ("stroke", "panel"),
    ("differ", "ground"), ("differ", "panel"), ("sounding", "ground"), ("sounding", "panel"),
    ("next", "ground"), ("next", "panel"), ("reading-a", "panel"), ("reading-b", "panel"),
    ("reading-c", "panel"), ("reading-a", "ground"), ("reading-b", "ground"), ("reading-c", "ground"),
)  # fmt: skip
"""Pairs that carry words: at least 4.5:1."""
ON_MARKS = tuple(
    (role, ground)
    for role in ("string", "fret-wire", "nut", "inlay", "bar-line", "note", "hand", "wave", "level-high")
    for ground in ("ground", "panel")
)
"""Pairs that carry marks: at least 3:1."""
