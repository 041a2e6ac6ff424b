"""Names that are left out: the only fragment and the only clip are taken, and told."""

from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.meant import Meant, meant

SCRIPT = """\
title: Names
teacher: Orla Vanterpool
clips:
{clips}
fragments:
{fragments}
segments:
  - {{id: a, title: A, scenes: [{{id: b, duration: 1, views: [{{show: words, text: x}}]}}]}}
"""
FRAGMENT = "  {}: {{notes: [{{pitch: E4, length: 1}}]}}"
CLIP = "  {}: {{file: {}.wav, rights: mine}}"


def script(folder: Path, fragments: str, clips: str) -> Path:
    path = folder / "lesson.yaml"
    made = (
        "\n".join(FRAGMENT.format(name) for name in fragments),
        "\n".join(CLIP.format(n, n) for n in clips),
    )
    path.write_text(SCRIPT.format(fragments=made[0], clips=made[1]), "utf-8")
    return path


TAKEN = [
    ("p", "t", None, None, False, Meant("p", None, ("fragment p, the only one",))),
    ("p", "t", None, None, True, Meant("p", "t", ("fragment p, the only one", "clip t, the only one"))),
    ("pq", "t", "q", None, True, Meant("q", "t", ("clip t, the only one",))),
    ("p", "tu", "u", None, True, Meant("p", "u", ("fragment p, the only one",))),
    ("pq", "tu", "q", "u", True, Meant("q", "u", ())),
    ("pq", "tu", "none", "none", True, Meant("none", "none", ())),
]


@pytest.mark.parametrize(("fragments", "clips", "fragment", "clip", "needs", "expected"), TAKEN)
def test_the_only_ones_are_taken(fragments, clips, fragment, clip, needs, expected, tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = script(tmp_path, fragments, clips)
    assert meant(path, fragment, clip, needs, allow_outside=False) == expected


TOLD = [
    ("pqr", "t", None, False, "6:3: 3 fragments could be meant: p, q, r; name one of them behind the script"),
    ("p", "tu", None, True, "4:3: 2 clips could be meant: t, u; name one of them behind the script"),
    ("pq", "tu", "u", True, "7:3: 2 fragments could be meant: p, q; name one of them behind the script"),
    ("abcdefghijklmn", "t", None, False, "6:3: 14 fragments could be meant: a, b, c, d, e, f, g, h, i, j, k, "
     "l and 2 more; name one of them behind the script"),
]  # fmt: skip


@pytest.mark.parametrize(("fragments", "clips", "fragment", "needs", "line"), TOLD)
def test_several_are_named_in_one_line(fragments, clips, fragment, needs, line, tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = script(tmp_path, fragments, clips)
    with pytest.raises(Faulty) as told:
        meant(path, fragment, None, needs, allow_outside=False)
    assert [str(fault) for fault in told.value.faults] == [f"{path}:{line}"]


def test_where_there_is_none_it_is_told(tmp_path: Path) -> None:
    path = script(tmp_path, "p", "t")
    path.write_text(path.read_text("utf-8").replace("clips:\n" + CLIP.format("t", "t") + "\n", ""), "utf-8")
    with pytest.raises(Faulty, match="the script has no clip; write one under `clips:`"):
        meant(path, None, None, True, allow_outside=False)
