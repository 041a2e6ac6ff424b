"""What a frame costs to draw and to convert: `python tests/benchmarks/frames.py [seconds]`.

Three scenes at 60 frames a second, drawn by the program's own pen: a paged tab and neck with a moving cursor
(P), a scrolling tab (S), and one where one frame in eight differs (H). Figures are milliseconds of processor
time a frame, medians of three runs; `whole` draws every frame in full and is the plain way.
"""

import sys
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from statistics import median

from rich.console import Console
from rich.table import Table

from pipeline.drawing.affine import moved
from pipeline.drawing.look import Look, load_look
from pipeline.drawing.outline import circle, line, rect, rounded
from pipeline.drawing.picture import Box, Group, Mark, Path, Picture, Stroke, Text
from pipeline.files.frames import Frame, frames
from pipeline.files.raster import rasterise
from pipeline.files.yuv import deep_planes, planes, to_420, to_444_alpha
from pipeline.timing import Rate

RATE = Rate(Fraction(60))
Scene = Callable[[Fraction], Picture]


class Stand:
    """The still parts of a made-up scene at one frame size, and the scenes made of them."""

    def __init__(self, width: int, height: int, look: Look) -> None:
        self.width, self.height, self.look, self.unit = width, height, look, height
        self.panel = Path(rounded(self.box(0.03, 0.1, 0.94, 0.36), self.share(0.014)), look.colour("panel"))
        self.tab = Group((self.strip(2 * width),))
        self.neck = self.fretboard()
        bar = rect(Box(-self.share(0.002), 0, self.share(0.004), self.share(0.36)))
        self.cursor = Group((Path(bar, look.colour("accent")),))
        self.dot = Group((Path(circle(0, 0, self.share(0.027)), look.colour("sounding")),))

    def share(self, part: float) -> float:
        return part * self.unit

    def box(self, x: float, y: float, width: float, height: float) -> Box:
        return Box(x * self.width, self.share(y), width * self.width, self.share(height))

    def strip(self, length: float) -> Group:
        gap, look = self.share(0.05), self.look
        thin = Stroke(look.colour("string"), self.share(0.0017))
        lines = [Path(line(0, gap * s, length, gap * s), stroke=thin) for s in range(6)]
        size, step = self.share(0.056), self.share(0.075)
        digits = [
            Text(
                step * (i + 1),
                gap * (i * 5 % 6) + size / 3,
                str(i % 17),
                size,
                look.colour("ink"),
                "semibold",
            )
            for i in range(int(length / step) - 1)
        ]
        return Group((*lines, *digits))

    def fretboard(self) -> Group:
        board, look = self.box(0.03, 0.6, 0.94, 0.3), self.look
        frets = [
            Path(
                line(x, board.y, x, board.bottom), stroke=Stroke(look.colour("fret-wire"), self.share(0.003))
            )
            for x in (board.x + board.width * (1 - 2 ** (-n / 12)) * 1.33 for n in range(25))
        ]
        strings = [
            Path(line(board.x, y, board.right, y), stroke=Stroke(look.colour("string"), self.share(0.003)))
            for y in (board.y + board.height * (s + 0.5) / 6 for s in range(6))
        ]
        return Group((Path(rect(board), look.colour("panel")), *frets, *strings))

    def lit(self, t: Fraction) -> Group:
        """The note that sounds: twelve a second."""
        n = int(t * 12)
        return self.dot.moved(self.width * (0.1 + 0.037 * (n * 7 % 23)), self.share(0.625 + 0.05 * (n % 6)))

    def picture(self, marks: tuple[Mark, ...]) -> Picture:
        return Picture(self.width, self.height, marks)

    def paged(self, t: Fraction) -> Picture:
        at = self.cursor.moved(self.width * (0.05 + float(t / 4 % 1) * 0.9), self.share(0.1))
        still = (self.panel, self.cut_tab(0.05 * self.width), self.neck)
        return self.picture((*still, self.lit(t), at))

    def scrolling(self, t: Fraction) -> Picture:
        x = self.width * (0.3 - float(t / 12 % 1))
        at = self.cursor.moved(self.width * 0.3, self.share(0.1))
        return self.picture((self.panel, self.cut_tab(x), self.neck, self.lit(t), at))

    def held(self, t: Fraction) -> Picture:
        return self.paged(Fraction(int(t * RATE.value) // 8 * 8) / RATE.value)

    def cut_tab(self, x: float) -> Group:
        return Group(self.tab.marks, moved(x, self.share(0.15)), clip=self.box(0.03, 0.1, 0.94, 0.36))


def cpu(work: Iterator[object]) -> float:
    start = time.process_time()
    for _ in work:
        pass
    return time.process_time() - start


def measured(stand: Stand, scene: Scene, count: int) -> dict[str, float]:
    """Milliseconds a frame: of making the picture, drawing it, both conversions, and the plain way."""
    look = stand.look
    ground = look.colour("ground")
    into, deep = planes(stand.width, stand.height), deep_planes(stand.width, stand.height)

    def converted(made: Iterator[Frame], convert: Callable[[Frame], None]) -> Iterator[None]:
        for frame in made:
            convert(frame)
            yield

    asked = cpu(scene(RATE.time_of(n)) for n in range(count))
    drawn = cpu(frames(scene, RATE, 0, count, ground))
    opaque = frames(scene, RATE, 0, count, ground)
    film = cpu(converted(opaque, lambda f: to_420(f.canvas, into, f.changed)))
    overlay = frames(scene, RATE, 0, count)
    alpha = cpu(converted(overlay, lambda f: to_444_alpha(f.canvas, deep, f.changed)))
    few = max(1, count // 60)
    whole = cpu(rasterise(scene(RATE.time_of(n * 60))) for n in range(few)) * count / few
    times = {
        "picture": asked,
        "drawn": drawn,
        "drawn, 4:2:0": film,
        "drawn, 4:4:4 alpha": alpha,
        "whole": whole,
    }
    return {name: 1000 * value / count for name, value in times.items()}


def main(seconds: float) -> None:
    table = Table("size", "scene", title="ms of processor time a frame")
    rows: list[tuple[str, str, dict[str, float]]] = []
    for width, height in ((1920, 1080), (3840, 2160)):
        stand = Stand(width, height, load_look("dusk"))
        scenes = {"P": stand.paged, "S": stand.scrolling, "H": stand.held}
        for name, scene in scenes.items():
            measured(stand, scene, 2)
            runs = [measured(stand, scene, round(60 * seconds)) for _ in range(3)]
            rows.append((f"{width}x{height}", name, {k: median(run[k] for run in runs) for k in runs[0]}))
    for column in rows[0][2]:
        table.add_column(column, justify="right")
    for size, name, row in rows:
        table.add_row(size, name, *(f"{value:.3f}" for value in row.values()))
    Console().print(table)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 20)
