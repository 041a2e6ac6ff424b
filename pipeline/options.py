"""The commands and their options, as argparse reads them. What each command does is `cli`'s."""

import argparse
from collections.abc import Callable
from pathlib import Path

BUILD = Path("build")
ALPHAS = ("prores", "qtrle", "png", "frames")
KINDS = (
    "overlays",
    "sound",
    "stills",
    "posters",
    "films",
    "captions",
    "handouts",
    "timeline",
    "credits",
    "previews",
)


class _Intermixed(argparse.ArgumentParser):
    """Reads options first and names after them, so that a name that may be left out can follow an option."""

    _within = False

    def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]
        if self._within:
            return super().parse_known_args(args, namespace)
        self._within = True
        try:
            return self.parse_known_intermixed_args(args, namespace)
        finally:
            self._within = False


def parser() -> argparse.ArgumentParser:
    """The whole command line as argparse sees it."""
    top = argparse.ArgumentParser(
        prog="fretscene",
        description="Guitar lessons written as scenes, made into overlays, films, sound and handouts.",
    )
    commands = top.add_subparsers(metavar="COMMAND", dest="command", required=True, parser_class=_Intermixed)

    def command(name: str, says: str) -> argparse.ArgumentParser:
        return commands.add_parser(name, help=says, description=says[0].upper() + says[1:] + ".")

    start = command("start", "write a new lesson folder that builds")
    start.add_argument("folder", type=Path, help="a folder that is not there yet, or empty")
    start.add_argument("--title", help="the lesson's title; by default the folder's name")

    check = command("check", "say everything that is wrong with scripts, and make nothing")
    _scripts(check)
    check.add_argument(
        "--pictures",
        action="store_true",
        help="measure the finished pictures, too: type, contrast, flashes, overlaps",
    )

    build = command("build", "make everything of scripts that is out of date")
    _scripts(build)
    build.add_argument("--segment", action="append", metavar="ID", help="only this segment (may be repeated)")
    build.add_argument("--scene", action="append", metavar="ID", help="only this scene (may be repeated)")
    build.add_argument("--only", action="append", choices=KINDS, help="only this kind of output")
    build.add_argument(
        "--alpha", choices=ALPHAS, default="prores", help="how overlays are written (frames: PNG files)"
    )
    build.add_argument("--draft", action="store_true", help="a small, fast film of each scene to look at")
    _making(build)

    handouts = command("handouts", "make the printed handouts of many scripts")
    _scripts(handouts)
    handouts.add_argument("--book", metavar="TITLE", help="make a course book of all of them, too")
    _making(handouts)

    _deciding(command)
    _exchanging(command)
    gallery = command("gallery", "draw scenes in every look and shape of frame onto sheets")
    says = "a lesson script (YAML); by default the examples beside the program"
    gallery.add_argument("scripts", type=Path, nargs="*", metavar="SCRIPT", help=says)
    gallery.add_argument("--out", type=Path, default=BUILD, help="the build folder (build)")
    _outside(gallery)

    schema = command("schema", "write the JSON Schema of scripts, for editors")
    schema.add_argument("--out", type=Path, help="a file; by default it is printed")

    command("keys", "print every key that a script and its views may have")

    store = command("store", "say how large the store of made things is, or clean it")
    store.add_argument("--out", type=Path, default=BUILD, help="the build folder (build)")
    store.add_argument("--clean", action="store_true", help="drop what no output stands on")
    return top


def _deciding(command: Callable[..., argparse.ArgumentParser]) -> None:
    weigh = command("weigh", "weigh where on the neck and how a fragment may be played")
    _fragment(weigh)
    weigh.add_argument(
        "--readings", type=_counted(1, 50), default=4, metavar="N", help="how many readings (4)"
    )
    weigh.add_argument("--free", action="store_true", help="take no account of the strings as written")
    weigh.add_argument("--json", action="store_true", help="print data instead of a table")
    weigh.add_argument("--keep", type=int, metavar="N", help="write reading N into the script")
    weigh.add_argument(
        "--region", type=_region, metavar="LOW-HIGH", help="keep the hand within these positions, as frets"
    )
    weigh.add_argument("--clip", metavar="NAME", help="take the time for each shift from this clip's marks")

    fit = command("fit", "learn a player's habits from fragments with written strings and frets")
    fit.add_argument("file", type=Path, metavar="OUT", help="the habits file to write (YAML)")
    _scripts(fit)
    fit.add_argument("--start", metavar="HABITS", help="the habits to begin from, by name or by file")

    align = command("align", "find the notes of a fragment in a clip")
    _fragment(align)
    _clip(align)
    align.add_argument("--afresh", action="store_true", help="take no account of the clip's marks")
    align.add_argument("--keep", action="store_true", help="write the marks into the script")

    hear = command("hear", "listen to a fragment in a clip for clues, and offer them")
    _fragment(hear)
    _clip(hear)
    hear.add_argument("--keep", action="store_true", help="write the clues into the fragment, as soft ones")

    practice = command("practice", "write a fragment as sound at a ladder of tempos")
    _fragment(practice)
    practice.add_argument("--out", type=Path, default=BUILD, help="the build folder (build)")
    practice.add_argument("--minutes", type=_counted(5, 180), default=15, help="how long one sitting is (15)")
    practice.add_argument("--no-click", action="store_true", help="only the count-in, no click after it")


def _region(text: str) -> tuple[int, int]:
    """`5-9` as two positions."""
    low, _, high = text.partition("-")
    if not (low.isdecimal() and high.isdecimal() and 0 < int(low) <= int(high) <= 36):
        raise argparse.ArgumentTypeError(f"{text!r} is no region; write two frets such as 5-9")
    return int(low), int(high)


def _exchanging(command: Callable[..., argparse.ArgumentParser]) -> None:
    read = command("import", "print a MusicXML or MIDI file as a fragment for a script")
    read.add_argument("file", type=Path, help="a .musicxml, .mxl or .mid file")
    read.add_argument("--strings", metavar="NAMES", help='how the guitar is strung: "E2 A2 D3 G3 B3 E4"')
    read.add_argument("--frets", type=int, metavar="N", help="how many frets it has")
    read.add_argument("--capo", type=int, metavar="N", help="the fret a capo lies on")
    read.add_argument("--scale-length", type=float, metavar="MM", help="from nut to bridge")

    write = command("export", "write a fragment as MusicXML, MIDI or text")
    _fragment(write)
    write.add_argument("file", type=Path, help="the file to write: .musicxml, .mid or .txt")


def _fragment(command: argparse.ArgumentParser) -> None:
    command.add_argument("script", type=Path, metavar="SCRIPT", help="a lesson script (YAML)")
    says = "the fragment's name in the script; by default its only one"
    command.add_argument("fragment", nargs="?", help=says)
    _outside(command)


def _clip(command: argparse.ArgumentParser) -> None:
    command.add_argument("clip", nargs="?", help="the clip's name in the script; by default its only one")


def _counted(least: int, most: int) -> Callable[[str], int]:
    """A whole number within bounds, as argparse wants its types."""

    def read(text: str) -> int:
        if not text.isdecimal() or len(text) > 9 or not least <= int(text) <= most:
            raise argparse.ArgumentTypeError(f"{text!r} is no whole number from {least} to {most}")
        return int(text)

    return read


def _scripts(command: argparse.ArgumentParser) -> None:
    command.add_argument("scripts", type=Path, nargs="+", metavar="SCRIPT", help="a lesson script (YAML)")
    _outside(command)


def _outside(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--allow-outside", action="store_true", help="let scripts read files outside their own folder"
    )


def _making(command: argparse.ArgumentParser) -> None:
    command.add_argument("--out", type=Path, default=BUILD, help="the build folder (build)")
    command.add_argument(
        "--jobs", type=_counted(0, 256), default=0, metavar="N", help="how many at once (the cores)"
    )
    command.add_argument("--plan", action="store_true", help="say what would be made and why; make nothing")
    command.add_argument(
        "--verify", action="store_true", help="read finished files again and mend broken ones"
    )
    command.add_argument("--json", action="store_true", help="tell of everything in JSON lines")
