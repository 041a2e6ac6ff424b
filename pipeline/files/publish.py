"""What goes beside a published film: a description with chapters, credits and rights."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from pipeline.files.place import placed


@dataclass(frozen=True)
class Sheet:
    """The words beside a film: `chapters` are (second, name), `rights` (file, whose and why used)."""

    title: str
    teacher: str
    chapters: tuple[tuple[Fraction, str], ...] = ()
    credits: tuple[str, ...] = ()
    rights: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()


def write_sheet(path: Path, sheet: Sheet) -> None:
    """Write the sheet as plain text, UTF-8. Raises Faulty where the disk refuses."""
    with placed(path) as part:
        part.write_text(description(sheet), "utf-8")


def description(sheet: Sheet) -> str:
    """The sheet's text: one block for each thing that there is."""
    blocks = [[sheet.title, f"With {sheet.teacher}"]]
    blocks.append([f"{clock(second)} {name}" for second, name in _from_the_start(sheet.chapters)])
    blocks.append(_headed("Credits", sheet.credits))
    blocks.append(_headed("Recordings and film", (f"{file}: {whose}" for file, whose in sheet.rights)))
    blocks.append(_headed("Take care", sheet.cautions))
    return "\n\n".join("\n".join(map(_line, block)) for block in blocks if block) + "\n"


def clock(second: Fraction) -> str:
    """Minutes and seconds, hours where there are any: 4:07, 1:02:03. The second that has begun counts."""
    whole = int(second)
    hours, minutes, seconds = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def _from_the_start(chapters: Sequence[tuple[Fraction, str]]) -> list[tuple[Fraction, str]]:
    """Chapters begin at nought: sites that read them off a description ask for it."""
    return [(Fraction(0), chapters[0][1]), *chapters[1:]] if len(chapters) > 1 else []


def _headed(heading: str, lines: Iterable[str]) -> list[str]:
    found = dict.fromkeys(lines)
    return [heading, *found] if found else []


def _line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
