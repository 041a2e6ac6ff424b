"""A fragment and a clip by name: nothing else of the script need be right for them."""

from pathlib import Path

import pytest

from pipeline.errors import Faulty
from pipeline.lesson.named import read_pair

MARKS = "    marks: {1:1: 0.5, 2:1: 2.5, 2:3: 3.6}\n"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (MARKS, ""),
        (MARKS, "    marks:\n"),
        (MARKS, "    marks: {1:1: 0.5}\n"),
        ("speeds: [100, 50, 25]", "speeds: fast"),
        ("    clip: climb\n", "    clip: climbs\n"),
    ],
)
def test_a_sound_pair_is_found_in_a_script_that_is_not(old: str, new: str, short: Path) -> None:
    text = short.read_text("utf-8")
    assert text.count(old) == 1
    short.write_text(text.replace(old, new), "utf-8")
    fragment, clip = read_pair(short, "climb", "climb", allow_outside=False)
    assert fragment.name == "climb"
    assert clip.path.name == "climb.wav"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("file: climb.wav", "file: climbed.wav", "there is no file 'climbed.wav'; did you mean 'climb.wav'"),
        ("5-7-8-|", "5-7-99|", "fret"),
        ("2:1: 2.5", "x: 2.5", "'x' is no moment"),
        ("clips:", "clipss:", "did you mean 'clips'"),
    ],
)
def test_what_is_wrong_with_either_is_told(old: str, new: str, told: str, short: Path) -> None:
    text = short.read_text("utf-8")
    short.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(Faulty, match=told):
        read_pair(short, "climb", "climb", allow_outside=False)


def test_a_name_that_is_not_there_gets_the_nearest(short: Path) -> None:
    with pytest.raises(Faulty, match="there is no fragment 'clim'; did you mean 'climb'"):
        read_pair(short, "clim", "climb", allow_outside=False)
    with pytest.raises(Faulty, match="there is no clip 'take'; known here: climb"):
        read_pair(short, "climb", "take", allow_outside=False)
