"""The command line: reads options, calls one function, words the answer.

Nothing heavy is imported before it is needed, so `--help` stays quick. What a user can mend ends with exit
code 2 and one line each; an interrupt ends with 130.
"""

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from pipeline.options import parser

COMPILING = "first use on this machine: compiling, some seconds"

Options = argparse.Namespace


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    from pipeline.errors import Faulty

    # where this is unset, a `.numba_config.yaml` in the lesson's folder could name a cache to run code from
    os.environ.setdefault("NUMBA_CACHE_DIR", "")
    options = parser().parse_args(arguments)
    try:
        return int(RUNS[options.command](options))
    except Faulty as error:
        return _told(error.faults)
    except KeyboardInterrupt:
        print("stopped; what was finished is kept", file=sys.stderr)
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 0
    except Exception as error:
        return _told([_unforeseen(error)])


def _unforeseen(error: Exception) -> object:
    """One line even where we are at fault, or the system refuses what nobody foresaw."""
    from traceback import extract_tb

    from pipeline.errors import Fault, Place

    last = extract_tb(error.__traceback__)[-1]
    place = Place(f"fretscene ({Path(last.filename).name}:{last.lineno})")
    if isinstance(error, OSError):
        return Fault(place, f"the system refused: {error}", "look at that file or folder and try again")
    wrong = f"could not go on: {type(error).__name__}: {error}"
    return Fault(place, wrong, "this is a defect of fretscene; please tell us")


def _told(faults: Sequence[object]) -> int:
    for fault in faults:
        print(fault, file=sys.stderr)
    return 2 if faults else 0


def _warn(cautions: Sequence[object]) -> None:
    """What a user should know though nothing is wrong."""
    for caution in cautions:
        print(caution, file=sys.stderr)


def _say(words: str) -> None:
    """A word on what goes on, which no pipe takes up."""
    print(words, file=sys.stderr, flush=True)


def _settle(options: Options, needs_clip: bool = False) -> None:
    """Fill in the fragment, and the clip where one is needed, that the user did not name."""
    from pipeline.lesson.meant import meant

    clip = options.clip if needs_clip else None
    found = meant(options.script, options.fragment, clip, needs_clip, options.allow_outside)
    options.fragment = found.fragment
    if needs_clip:
        options.clip = found.clip
    for remark in found.remarks:
        _say(remark)


# what each command does --------------------------------------------------------------------------------


def run_start(options: Options) -> int:
    from pipeline.lesson.start import start

    for path in start(options.folder, options.title or options.folder.resolve().name):
        print(f"wrote {path}")
    print(f"now: fretscene build {options.folder}/lesson.yaml")
    return 0


def run_check(options: Options) -> int:
    from pipeline.errors import Faulty
    from pipeline.lesson.check import read_checked

    if options.pictures:
        return _check_pictures(options)
    faults, cautions = list[object](), list[object]()
    for script in options.scripts:
        try:
            cautions += read_checked(script, options.allow_outside).cautions
        except Faulty as error:
            faults += error.faults
    _warn(cautions)
    if not faults:
        found = f"no fault, {_counted(cautions, 'caution')}" if cautions else "nothing is wrong"
        print(f"{_counted(options.scripts, 'script')}: {found}")
    return _told(faults)


def _counted(things: Sequence[object], name: str) -> str:
    return f"{len(things)} {name}{'s' * (len(things) != 1)}"


def _check_pictures(options: Options) -> int:
    from pipeline.errors import Faulty
    from pipeline.lesson.inspection_report import inspect_script, table

    def tell(scene: str, left: float) -> None:
        rest = f", about {left:.0f} s left" if left >= 1 else ""
        print(f"looking at {scene}{rest}", file=sys.stderr, flush=True)

    faults: list[object] = []
    for script in options.scripts:
        try:
            found = inspect_script(script, tell, options.allow_outside)
        except Faulty as error:
            faults += error.faults
            continue
        print(f"{script}", *table(found.found), sep="\n")
        faults += found.faults
    return _told(faults)


def run_build(options: Options) -> int:
    from pipeline.targets.wish import ALL, DRAFT, Choice

    choice = Choice(
        tuple(options.only or (DRAFT if options.draft else ALL)),
        tuple(options.scene or ()),
        tuple(options.segment or ()),
        options.alpha,
    )
    return _build(options, choice, draft=options.draft)


def run_handouts(options: Options) -> int:
    from pipeline.targets.wish import Choice

    return _build(options, Choice(("handouts",)), book=options.book or "")


def _build(options: Options, choice: Any, **others: Any) -> int:
    from pipeline.targets.stamp import unchanged
    from pipeline.targets.wish import Wish

    wish = Wish(
        tuple(options.scripts),
        options.out,
        choice,
        options.jobs,
        verify=options.verify,
        allow_outside=options.allow_outside,
        **others,
    )
    standing = unchanged(wish)
    if standing is not None:
        said = f"nothing to make: {standing} files are up to date in {options.out}"
        print(said, file=sys.stderr if options.json else sys.stdout)
        return 0
    if options.plan:
        return _plan(wish)
    from pipeline.targets.process import WorkerProcess

    worker = WorkerProcess()
    if choice.films:
        worker.get_ready()  # while the script is read, and what reads it is loaded
    try:
        return _make(wish, options.json, worker)
    finally:
        worker.retire()


def _plan(wish: Any) -> int:
    """Tell what would be made, and why."""
    from pipeline.targets.build import planned

    for target, why in planned(wish):
        print(f"{why:8} {target.id}" + (f" -> {wish.folder / target.path}" if target.path else ""))
    return 0


def _make(wish: Any, as_json: bool, worker: Any) -> int:
    from pipeline.targets.build import build, summary

    built = build(wish, as_json, worker)
    if not as_json:
        print(*summary(built), sep="\n")
    _warn(built.cautions)
    for script in built.unread:
        print(f"left out {script}, which has faults:", file=sys.stderr)
    faults = [*built.faults, *(fault for one in built.outcomes for fault in one.faults)]
    return _told(list(dict.fromkeys(faults)))  # a spoilt file spoils every piece made from it


def run_weigh(options: Options) -> int:
    import json

    from pipeline.lesson.first_use import weighing_compiles
    from pipeline.lesson.tools import keep_reading, weigh_fragment

    _settle(options)
    if weighing_compiles():
        _say(COMPILING)
    weighing = weigh_fragment(
        options.script,
        options.fragment,
        options.readings,
        options.free,
        options.allow_outside,
        options.region,
        options.clip,
    )
    if options.json:
        print(json.dumps(weighing.as_data(), indent=1))
    else:
        print(weighing.as_text())
    if options.keep is not None:
        path = keep_reading(options.script, options.fragment, weighing, options.keep)
        _say(f"wrote reading {options.keep} into {path}")
    return 0


def run_fit(options: Options) -> int:
    from time import monotonic

    from pipeline.lesson.first_use import weighing_compiles
    from pipeline.lesson.learned import learn

    if weighing_compiles():
        _say(COMPILING)
    began = monotonic()

    def tell(done: int, most: int) -> None:
        left = (monotonic() - began) / done * (most - done)
        _say(f"round {done}, {most} at most, at most {max(1, round(left))} s left")

    found = learn(options.scripts, options.file, options.start, tell, options.allow_outside)
    print(*found.lines(), sep="\n")
    print(f"wrote {options.file}; a script asks for it with `habits: {options.file.name}`")
    return 0


def run_align(options: Options) -> int:
    from pipeline.lesson.first_use import aligning_compiles
    from pipeline.lesson.tools import find_notes, keep_marks

    _settle(options, needs_clip=True)
    if aligning_compiles():
        _say(COMPILING)
    found = find_notes(
        options.script, options.clip, options.fragment, not options.afresh, options.allow_outside
    )
    _warn([f"caution: {words}" for words in found.cautions])
    print(*found.lines(), sep="\n")
    if options.keep:
        instead = ", in place of the tempo" if keep_marks(options.script, found) else ""
        print(f"wrote the marks into {options.script}{instead}")
    return 0


def run_hear(options: Options) -> int:
    from pipeline.lesson.first_use import aligning_compiles
    from pipeline.lesson.offered import keep_clues, offered

    _settle(options, needs_clip=True)
    if aligning_compiles():
        _say(COMPILING)
    heard = offered(options.script, options.fragment, options.clip, options.allow_outside)
    _warn([f"caution: {words}" for words in heard.cautions])
    print(*heard.lines(), sep="\n")
    if options.keep:
        count, path = keep_clues(options.script, options.fragment, heard)
        print(f"wrote {count} new clues into {path}")
    return 0


def run_practice(options: Options) -> int:
    from pipeline.lesson.tools import practice_files
    from pipeline.sound.practice import CAUTIONS

    _settle(options)
    folder = options.out / options.script.stem / "practice"
    made = practice_files(
        options.script,
        options.fragment,
        folder,
        options.minutes,
        not options.no_click,
        options.allow_outside,
    )
    for path in made:
        print(f"wrote {path}")
    print(*CAUTIONS, sep="\n")
    return 0


def run_gallery(options: Options) -> int:
    from pipeline.targets.gallery import gallery

    def tell(path: Path, done: int, total: int, left: float) -> None:
        rest = f", about {max(1, round(left))} s left" if done < total else ""
        print(f"[{done}/{total}] wrote {path}{rest}", file=sys.stderr, flush=True)

    print(f"wrote {gallery(options.scripts, options.out, tell, options.allow_outside)}")
    return 0


def run_import(options: Options) -> int:
    from pipeline.lesson.notation import guitar_of, read_notation

    named = ("strings", "frets", "capo", "scale_length")
    guitar = guitar_of({key.replace("_", "-"): getattr(options, key) for key in named})
    read = read_notation(options.file, guitar)
    print(read.as_yaml())
    for loss in read.lost:
        print(f"left out: {loss}", file=sys.stderr)
    if read.weighed:
        print("strings and fingers were weighed, not read: look at them with `weigh`", file=sys.stderr)
    return 0


def run_export(options: Options) -> int:
    from pipeline.lesson.notation import write_notation

    _settle(options)
    write_notation(options.script, options.fragment, options.file, options.allow_outside)
    print(f"wrote {options.file}")
    return 0


def run_schema(options: Options) -> int:
    from pipeline.files.place import placed
    from pipeline.lesson.schema import schema_text

    if options.out is None:
        print(schema_text(), end="")
        return 0
    with placed(options.out) as part:
        part.write_text(schema_text(), "utf-8")
    print(f"wrote {options.out}")
    return 0


def run_keys(options: Options) -> int:
    from pipeline.lesson.keytables import key_tables

    print(key_tables(), end="")
    return 0


def run_store(options: Options) -> int:
    from pipeline.targets.store import Store

    store = Store(options.out)
    if options.clean:
        with store.locked():
            count, size = store.clean()
        print(f"dropped {count} that nothing stands on ({size / 1e6:.1f} MB)")
    count, size = store.sizes()
    print(f"{count} things in {store.root}, {size / 1e6:.1f} MB")
    return 0


RUNS: dict[str, Callable[[Options], int]] = {
    "start": run_start,
    "check": run_check,
    "build": run_build,
    "handouts": run_handouts,
    "gallery": run_gallery,
    "schema": run_schema,
    "keys": run_keys,
    "store": run_store,
    "weigh": run_weigh,
    "fit": run_fit,
    "align": run_align,
    "hear": run_hear,
    "practice": run_practice,
    "import": run_import,
    "export": run_export,
}
