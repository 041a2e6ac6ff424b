"""Every mistake in a script at once, each with its place, what is wrong, and what would be right."""

import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.errors import Fault, Faulty
from pipeline.lesson.check import read_checked
from pipeline.lesson.learned import learn
from pipeline.lesson.resolve import read_lesson
from pipeline.lesson.tools import weigh_fragment

DATA = Path(__file__).parent / "data"

Changed = Callable[..., list[str]]


def test_a_sound_script_has_no_faults(changed: Changed) -> None:
    assert changed() == []


def test_strings_from_high_to_low_are_told_once_where_they_stand(changed: Changed) -> None:
    found = changed(("E2 A2 D3 G3 B3 E4", "E4 B3 G3 D3 A2 E2"))
    assert len(found) == 1
    wanted = "strings: the strings stand from the highest to the lowest; lowest first: E2 A2 D3 G3 B3 E4"
    assert found[0] == f"lesson.yaml:7:19: {wanted}"


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("title: A Short", "titel: A Short", "lesson.yaml:2:1: unknown key 'titel'; did you mean 'title'?"),
        ("teacher: Ida Marrow\n", "", "lesson.yaml:2:1: the key 'teacher' is missing; add it"),
        ("1280x720", "1281x720", "size: 1281x720 has an odd side; write even numbers: film codecs"),
        ("30000/1001", "30000/0", "lesson.yaml:5:31: rate: '30000/0' is no number; write a number such as"),
        (
            "30000/1001",
            "59.9401",
            "rate: a frame rate of 59.9401 is too fine for films; write one such",
        ),
        ("E2 A2", "E2 H2", "lesson.yaml:7:19: strings: 'H2' is no pitch name; write pitch names such as E2"),
        ("frets: 22", "frets: 22.5", "frets: 22.5 is no whole number; write one such as 4"),
        ("frets: 22", "frets: .nan", "frets: '.nan' is no whole number; write one such as 4"),
        ("look: dusk", "look: dust", "lesson.yaml:6:7: no look is called 'dust'; did you mean 'dusk'?"),
        (
            "habits: alternate",
            "habits: alternat",
            "no habits profile is called 'alternat'; did you mean 'alter",
        ),
        (
            "file: climb.wav",
            "file: clim.wav",
            "13:11: there is no file 'clim.wav'; did you mean 'climb.wav'?",
        ),
        ("file: climb.wav", "file: ../x.wav", "13:11: '../x.wav' leaves the lesson's folder; copy the file"),
        ("file: climb.wav", "file: /etc/hostname", "13:11: '/etc/hostname' leaves the lesson's folder; copy"),
        (
            "file: climb.wav",
            "file: 'http://a/b.wav'",
            "13:11: file: 'http://a/b.wav' is an address; name a f",
        ),
        (
            "file: climb.wav",
            "file: lesson.yaml",
            "'lesson.yaml' is no sound or film of a known kind; use wav",
        ),
        (
            "span: [0.25, 6]",
            "span: [6, 0.25]",
            "15:11: span: the span ends before it starts; write the earlier",
        ),
        ("span: [0.25, 6]", "span: [6, 6]", "15:11: span: the span is empty; write an end that is later"),
        ("2:1: 2.5, 2:3: 3.6", "2:1: 2.5, 2:3: 2.4", "16:12: the marks do not rise: beat 6 at 2.4 s follows"),
        (
            "2:1: 2.5, 2:3: 3.6",
            "2:1: 2.5, 2:9: 3.6",
            "16:12: bar 2 has no beat 9; it goes from beat 1 to the",
        ),
        ("2:1: 2.5, 2:3: 3.6", "2:1: 2.5, x: 3.6", "16:33: x: 'x' is no moment; write bar:beat such as 2:3"),
        (
            "marks: {1:1: 0.5, 2:1: 2.5, 2:3: 3.6}",
            "marks:",
            "`fretscene align lesson.yaml climb climb --keep` finds",
        ),
        (", 2:1: 2.5, 2:3: 3.6", "", "one mark alone gives no tempo; add a second mark, or the tempo"),
        ("span: [0.25, 6]", "span: [0.25, 3]", "33:15: the notes lie at 0.500 to 4.700 s, outside the clip"),
        ("meter: 4/4", "meter: 4/5", "meter: '4/5' is no meter; write beats over their unit"),
        ("5-7-8-|", "5-7-99|", "fret"),
        (
            "fragment: climb\n    scenes",
            "fragment: clim\n    scenes",
            "no fragment is called 'clim'; did you m",
        ),
        ("clip: climb", "clip: climbs", "33:15: no clip is called 'climbs'; did you mean 'climb'?"),
        (
            "speeds: [100, 50, 25]",
            "speeds: [100, 5]",
            "34:23: speeds: a speed of 5 is out of range; write 10",
        ),
        ("speeds: [100, 50, 25]", "speeds: fast", "speeds: 'fast' is no number; write a number such as 2"),
        ("{at: 1:3, lasting", "{at: 3:3, lasting", "36:18: 'climb' has no bar 3; its bars are 1 to 2"),
        ("lasting: 1.5, in-pass: 2", "lasting: 1.5, in-pass: 4", "there is no pass 4; the scene has 3"),
        ("until: 1:4", "until: 1:1", "the zoom ends before it starts; write a later moment"),
        (
            "          - show: tab\n            strip",
            "          - {show: sound, spot: 9}\n          - show: tab\n            strip",
            "there is no note 9 in what this scene plays; it has notes 1 to 5, counted from its first",
        ),
        ("climb.wav", "sub/climb.waw", "there is no file 'sub/climb.waw'"),
        ("into: tab", "into: tub", "38:20: no view of this scene is called 'tub'; did you mean 'tab'?"),
        ("at: 8}", "at: -1}", "at: -1 seconds is out of range; write a time from 0"),
        (
            "id: four",
            "id: Whole",
            "the scene id 'Whole' is taken since line 31; give each of the scenes an id",
        ),
        ("id: four", "id: ../four", "id: '../four' cannot be a name here; use up to 64 letters"),
        ("id: four", "id: con", "id: 'con' is kept for a device by some systems; choose another name"),
        ("notes: 1-4", "notes: 10-40", "'climb' has no notes 10 to 40; it has 13 notes"),
        ("notes: 1-4", "notes: 4-1", "notes: the range 4-1 runs backwards; write 1-4"),
        ("notes: 1-4", "notes: 1-4\n        bars: 1", "both bars and notes are given; keep one of them"),
        ("strip: scrolling", "strip: scroling", "strip: 'scroling' is not known; did you mean 'scrolling'?"),
        ("strip: scrolling", "since: 9:1", "53:20: 'climb' has no bar 9; its bars are 1 to 2"),
        ("strip: scrolling", "since: 1:1", "1:1 is not among the bars or notes that are played; choose one"),
        (
            "strip: scrolling",
            "since: 4\n            until: 3",
            "the view goes before it comes; write a later t",
        ),
        (
            "loops: 2\n        pause: 0",
            "loops: 200\n        pause: 20",
            "the scene would last more than 60 minutes; play fewer passes, or divide it",
        ),
        ("notes: 1-4", "duration: 9999", "the scene would last more than 60 minutes; play fewer passes, or"),
        (
            "speeds: 50",
            "speeds: [" + "50," * 300 + "50]",
            "the scene has 602 passes, speeds times loops; keep to",
        ),
        ("show: tab", "show: tap", "show 'tap' is not known; did you mean 'tab'?"),
        ("transition: dip", "transition: dive", "transition: 'dive' is not known; did you mean"),
        ("scene: whole, at: 1:3", "scene: hole, at: 1:3", "no scene is called 'hole'; did you mean 'whole'?"),
        (
            "fragment: climb, bars: 1-2",
            "fragment: climb, bars: 1-9",
            "'climb' has no bar 9; its bars are 1 to",
        ),
        ("paper: [a4]", "paper: a4", "paper: 'a4' is no list; write a list: '- ' before each entry"),
        ("paper: [a4]", "paper: [a5]", "paper: 'a5' is not known; known here: a4"),
        (
            "scale-length: 628",
            "scale-length: 25.5",
            "scale-length: 25.5 would be inches, and it is written in",
        ),
        ("scale-length: 628", "scale-length: 25.5", "millimetres; write 648"),
        ("scale-length: 628", "scale-length: 2", "scale-length: 2 is out of range; write at least 300"),
        (
            "views:\n          - show: tab\n      - id",
            "views:\n      - id",
            "views: nothing is written there; write a list: '- ' before each entry, such as `- show: tab`",
        ),
        ("title: A Short Climb", "title:", "2:7: title: nothing is written there; write words"),
        (
            "- show: tab\n            strip: scrolling",
            "- {show: scalemap, scale: natural minor}",
            "scale: 'natural minor' is not known; did you mean 'minor'?",
        ),
        (
            "- show: tab\n            strip: scrolling",
            "- {show: scalemap, scale: pentatonic minor}",
            "scale: 'pentatonic minor' is not known; did you mean 'minor pentatonic'?",
        ),
        ("lasting: 1.5, in-pass", "lasting: 0, in-pass", "lasting: it lasts no time; write how many seconds"),
        ("notes: 1-4", "notes: 1-4\n        duration: 0", "duration: it lasts no time; write how many"),
        ("slower., at: 8", "slower., at: 8, lasting: 0", "lasting: it lasts no time; write how many"),
        ("language: en", "language: english!", "language: 'english!' has not the right form"),
    ],
)
def test_a_mistake_is_one_clear_line(changed: Changed, old: str, new: str, expected: str) -> None:
    found = changed((old, new))
    (fault,) = found
    assert expected in fault


def test_all_mistakes_are_told_at_once(changed: Changed) -> None:
    found = changed(
        ("into: tab", "into: tub"), ("notes: 1-4", "notes: 40-41"), ("file: climb.wav", "file: none.wav")
    )
    assert len(found) == 3


def test_an_episode_without_playing_needs_a_duration(changed: Changed) -> None:
    found = changed(("        fragment: climb\n        notes: 1-4\n", ""))
    assert len(found) == 1
    assert "nothing is played and no duration is given; add a fragment or a duration" in found[0]


def test_faults_inside_a_passage_point_at_the_scripts_line(changed: Changed) -> None:
    (found,) = changed(("5-6-8-------|", "5-6-y-------|"))
    assert found.startswith("lesson.yaml:24:")


def test_a_link_that_leads_out_of_the_folder_is_refused(
    short: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    outside = tmp_path_factory.mktemp("outside") / "secret.wav"
    (short.parent / "climb.wav").rename(outside)
    (short.parent / "climb.wav").symlink_to(outside)
    with pytest.raises(Faulty, match="leaves the lesson's folder"):
        read_checked(short)
    assert read_checked(short, allow_outside=True).fragments


def test_a_half_copied_recording_is_named(short: Path) -> None:
    (short.parent / "climb.wav").write_bytes(b"OggS" + bytes(200))
    with pytest.raises(Faulty, match=r"13:11: 'climb\.wav' is cut off"):
        read_checked(short)


def test_a_script_that_is_a_list() -> None:
    from pipeline.lesson.script import episode_of
    from pipeline.source import parse_yaml

    with pytest.raises(Faulty, match="this is no script; write keys such as title"):
        episode_of(parse_yaml("- a", "a.yaml"))


TOKENS = (
    "null", "[]", "{}", "-1", "1e30", "'x'", "0", "1/0", "0/0", "5:0", "0:1", "1:1", "9" * 12, "true", "|",
    "*x", "&x", "1:1+1/0", "3-2", "''", "~", "0.0000001", "1-1", "none", ": ", "[[[", "é", "\u2028", "\t",
)  # fmt: skip


@given(seed=st.integers(0, 10**9))
@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
def test_no_script_however_broken_ends_in_anything_but_faults(short: Path, seed: int) -> None:
    """Lines dropped, doubled, cut and overwritten: a script resolves, or says what is wrong with it."""
    text, chance = (DATA / "short.yaml").read_text("utf-8"), random.Random(seed)
    for _ in range(chance.randint(1, 3)):
        lines = text.split("\n")
        index = chance.randrange(len(lines))
        at = chance.randrange(len(lines[index]) + 1)
        token = chance.choice(TOKENS)
        before, _, after = lines[index].partition(": ")
        lines[index : index + 1] = chance.choice(
            [
                [],
                [lines[index], lines[chance.randrange(len(lines))]],
                [lines[index][:at] + token + lines[index][at + 1 :]],
                [f"{before}: {token}" if after else token],
            ]
        )
        text = "\n".join(lines)
    short.write_text(text, "utf-8")
    faults: tuple[Fault, ...] = ()
    try:
        read_lesson(short)
    except Faulty as error:
        faults = error.faults
    assert all(fault.place.file == str(short) and fault.remedy for fault in faults)


def test_checking_loads_nothing_that_makes_sound_or_film() -> None:
    code = "import sys, pipeline.lesson.check; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    heavy = {"scipy", "numba", "av", "moviepy", "blend2d", "typst", "verovio", "PIL", "fontTools.ttLib"}
    assert not heavy & set(loaded)


def cautions_of(script: Path) -> list[str]:
    return [str(one).replace(f"{script.parent}/", "") for one in read_checked(script).cautions]


def test_words_that_go_by_too_fast_are_told_and_stop_nothing(short: Path) -> None:
    """200 words a minute is the most that can be followed (Ofcom, in bbc.co.uk/rd/blog/2015-09)."""
    assert cautions_of(short) == []
    text = short.read_text("utf-8").replace(
        "text: Now slower., at: 8", "text: Now much slower., at: 8, lasting: 0.5"
    )
    short.write_text(text, "utf-8")
    (caution,) = cautions_of(short)
    assert caution.startswith("lesson.yaml:41:13: caution: these words go by at 360 words a minute")


@pytest.mark.parametrize(
    ("written", "meant"),
    [("29.97", "30000/1001"), ("23.976", "24000/1001"), ("23.98", "24000/1001"), ("59.94", "60000/1001")],
)
def test_a_rate_in_decimals_is_told_with_the_one_it_means(short: Path, written: str, meant: str) -> None:
    """Video runs at whole rates times 1000/1001 (common practice, no source)."""
    short.write_text(short.read_text("utf-8").replace("30000/1001", written), "utf-8")
    (caution,) = cautions_of(short)
    assert caution.startswith(f"lesson.yaml:5:31: caution: {written} frames a second is not quite")
    assert caution.endswith(f"write `rate: {meant}`")


@pytest.mark.parametrize("rate", ["24", "25", "30", "60", "24000/1001", "60000/1001"])
def test_exact_rates_pass_in_silence(short: Path, rate: str) -> None:
    short.write_text(short.read_text("utf-8").replace("30000/1001", rate), "utf-8")
    assert cautions_of(short) == []


def test_words_long_after_all_else_are_told(short: Path) -> None:
    """The short lesson plays for about 35 s: a caption at 500 s leaves it still until then."""
    text = short.read_text("utf-8")
    short.write_text(text.replace("slower., at: 8", "slower., at: 500"), "utf-8")
    (caution,) = cautions_of(short)
    assert "lesson.yaml:41:13: caution: nothing happens for 4" in caution
    assert "and the scene lasts 502 s for them; let them come earlier, or give" in caution
    short.write_text(short.read_text("utf-8").replace("speeds: [100", "duration: 510\n        speeds: [100"))
    assert cautions_of(short) == []
    short.write_text(text.replace("slower., at: 8", "slower., at: 40"), "utf-8")
    assert cautions_of(short) == []


@pytest.mark.parametrize(("name", "handler"), [("side.wav", None), ("side.m4a", b"soun")])
def test_sound_under_a_scene_is_no_footage(
    changed: Changed, short: Path, film_head: Changed, name: str, handler: bytes | None
) -> None:
    file = short.parent / name
    if handler:
        film_head(file, handler)
    else:
        shutil.copy(short.parent / "climb.wav", file)
    keys = f"        footage: {{file: {name}, rights: made here}}\n        holds:"
    (found,) = changed(("        holds:", keys))
    assert found.startswith(f"lesson.yaml:35:25: '{name}' holds sound and no pictures")


def test_a_film_under_a_scene_passes(changed: Changed, short: Path, film_head: Changed) -> None:
    film_head(short.parent / "side.mov")
    keys = "        footage: {file: side.mov, rights: made here}\n        holds:"
    assert changed(("        holds:", keys)) == []


def test_an_mp3_that_hides_its_delay_is_told(short: Path) -> None:
    """A bare MPEG-1 layer III stream, 417 bytes a frame (ISO/IEC 11172-3: 144 * 128000 / 44100)."""
    frame = b"\xff\xfb\x90\x64" + bytes(413)
    (short.parent / "climb.mp3").write_bytes(frame * 400)
    short.write_text(short.read_text("utf-8").replace("climb.wav", "climb.mp3"), "utf-8")
    (caution,) = cautions_of(short)
    assert "climb.mp3" in caution
    assert "25 ms late; export it again as wav or flac" in caution


def test_what_asks_for_the_written_reading_needs_written_strings(changed: Changed) -> None:
    (found,) = changed(
        ("    text: |\n", "    notes: [{onset: 0, pitch: E4}, {onset: 1, pitch: F4}]\n    # |\n"),
        ("count   1 &", "# count   1 &"),
        ("E4     |---", "# E4     |---"),
        ("B3     |---", "# B3     |---"),
        ("G3     |5", "# G3     |5"),
        (
            "        holds:\n          - {at: 1:3, lasting: 1.5, in-pass: 2}\n",
            "        readings: [written]\n",
        ),
        (", bars: 1-2}", "}"),
        ("        bars: 2\n", ""),
        ("notes: 1-4", "notes: 1-2"),
        ("{1:1: 0.5, 2:1: 2.5, 2:3: 3.6}", "{1:1: 0.5, 1:4: 2.5}"),
    )
    assert "is written without strings; ask for another reading" in found


def out_of_hand(short: Path) -> None:
    """The short lesson with fingers under its first two notes, in line 25, that a hand at 8 has not there."""
    text, rows = short.read_text("utf-8"), "      fingers 2 3\n      hand    8  -\n"
    short.write_text(text.replace("segments:", rows.replace("  -", "   -") + "segments:", 1), "utf-8")


def test_a_hand_that_cannot_be_is_told_with_the_place_of_its_note(short: Path) -> None:
    out_of_hand(short)
    told = [one for one in cautions_of(short) if "finger" in one]
    assert len(told) == 1
    assert told[0].startswith("lesson.yaml:25:15: caution: finger 2 cannot take fret 5 with the hand at 8")


def test_weighing_says_in_order_which_notes_no_hand_takes(short: Path) -> None:
    out_of_hand(short)
    with pytest.raises(Faulty) as caught:
        weigh_fragment(short, "climb", 4, free=False)
    told = [str(fault).replace(f"{short.parent}/", "") for fault in caught.value.faults]
    assert [line.split(";")[0] for line in told] == [
        "lesson.yaml:25:15: no hand takes note 1 (C4) as it is marked",
        "lesson.yaml:25:17: no hand takes note 2 (D4) as it is marked",
    ]


def test_nothing_to_learn_from_is_told_with_the_reason(short: Path, tmp_path: Path) -> None:
    out_of_hand(short)
    with pytest.raises(Faulty, match=r"no fragment is there to learn from: climb of .* no hand takes note 1"):
        learn([short], tmp_path / "habits.yaml", None, lambda done, most: None)
