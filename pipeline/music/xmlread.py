"""Reads an XML text into plain elements without ever following what it points to.

Entities are refused, so that none can grow or name a file; external document types are not loaded. Size and
depth are limited. Elements know their line, for the place of a fault.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from pipeline.errors import Place, faulty

LARGEST_BYTES = 20_000_000
DEEPEST = 60


@dataclass
class Element:
    """An element: its name, attributes, children, the text in it and the line where it starts."""

    tag: str
    attributes: dict[str, str]
    line: int
    children: list["Element"] = field(default_factory=list)
    text: str = ""

    def get(self, name: str, default: str = "") -> str:
        return self.attributes.get(name, default)

    def all(self, *path: str) -> Iterator["Element"]:
        """Every element that a path of names leads to."""
        if not path:
            yield self
            return
        for child in self.children:
            if child.tag == path[0]:
                yield from child.all(*path[1:])

    def one(self, *path: str) -> "Element | None":
        return next(self.all(*path), None)

    def word(self, *path: str) -> str:
        """The text of the first element at a path, "" where there is none."""
        found = self.one(*path)
        return found.text.strip() if found else ""

    def everything(self) -> Iterator["Element"]:
        yield self
        for child in self.children:
            yield from child.everything()


def read_xml(data: bytes, file: str) -> Element:
    """The root element of an XML text. Raises Faulty where it is none, too large, too deep or unsafe."""
    if len(data) > LARGEST_BYTES:
        raise faulty(Place(file), f"the file has {len(data)} bytes", f"keep to {LARGEST_BYTES}")
    builder = _Builder(file)
    try:
        builder.parser.Parse(data, True)
    except expat.ExpatError as fault:
        place = Place(file, fault.lineno, fault.offset + 1)
        wrong = f"this is no well-formed XML ({expat.errors.messages[fault.code]})"
        raise faulty(place, wrong, "export it again from where it came") from None
    except (LookupError, ValueError):  # an encoding that Python has not, or that is no plain one
        raise faulty(Place(file, 1, 1), "its encoding is not read here", "save it as UTF-8") from None
    assert builder.root is not None
    return builder.root


class _Builder:
    def __init__(self, file: str) -> None:
        self.file = file
        self.root: Element | None = None
        self.stack: list[Element] = []
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.EntityDeclHandler = self.entity

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        element = Element(tag, attributes, self.parser.CurrentLineNumber)
        if len(self.stack) >= DEEPEST:
            raise faulty(Place(self.file, element.line, 1), "elements lie too deep", f"keep to {DEEPEST}")
        if self.stack:
            self.stack[-1].children.append(element)
        else:
            self.root = element
        self.stack.append(element)

    def end(self, tag: str) -> None:
        del tag
        self.stack.pop()

    def characters(self, text: str) -> None:
        if self.stack:
            self.stack[-1].text += text

    def entity(self, name: str, *rest: object) -> None:
        del rest
        place = Place(self.file, self.parser.CurrentLineNumber, 1)
        raise faulty(place, f"the file declares an entity ({name[:20]})", "write the file without entities")
