"""The command line as its users meet it: quick help, one clear line a mistake, exit code 2, no traceback."""

import json
import re
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.options import parser

DEMO = Path(__file__).resolve().parent.parent / "scenes" / "kestrel" / "kestrel.yaml"
HEAVY = ("numpy", "scipy", "numba", "pydantic", "yaml", "av", "blend2d", "moviepy", "typst", "rich", "PIL")


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pipeline", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom pipeline.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip().endswith("[]")


def test_settings_in_the_current_folder_name_no_cache_of_compiled_code(tmp_path: Path) -> None:
    (tmp_path / ".numba_config.yaml").write_text("cache_dir: elsewhere\n", "utf-8")
    code = (
        "from pipeline.cli import main\n"
        "assert main(['keys']) == 0\n"
        "from numba.core import config\nprint(repr(config.CACHE_DIR))"
    )
    command = [sys.executable, "-c", code]
    said = subprocess.run(command, capture_output=True, text=True, check=True, cwd=tmp_path)
    assert said.stdout.endswith("''\n")


def test_a_defect_of_ours_is_one_line_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("a\nb")

    monkeypatch.setattr("pipeline.lesson.keytables.key_tables", broken)
    assert main(["keys"]) == 2
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert "ZeroDivisionError: a b; this is a defect of fretscene" in said


def test_every_command_has_words_and_stands_in_the_readme(checkout: Path) -> None:
    readme = (checkout / "README.md").read_text("utf-8")
    actions = parser()._subparsers._group_actions[0]  # type: ignore[union-attr]
    for name, command in actions.choices.items():  # type: ignore[union-attr]
        assert command.description
        assert f"fretscene {name}" in readme
        for action in command._actions:
            assert action.help, f"{name} {action.dest}"


def test_the_demo_has_no_faults(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(DEMO)]) == 0
    assert "nothing is wrong" in capsys.readouterr().out


def test_a_caution_is_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Fingers that no hand at 8 puts there are no fault, but not nothing either."""
    rows = "fingers  3  4\n      hand     8\n      E4     |-12-13-|"
    head = DEMO.read_text("utf-8").split("fragments:")[0]
    scene = "  - id: one\n    title: One\n    fragment: far\n    scenes: [{id: it, views: [{show: tab}]}]\n"
    text = f"{head}fragments:\n  far:\n    text: |\n      {rows}\nsegments:\n{scene}"
    (tmp_path / "far.yaml").write_text(text, "utf-8")
    assert main(["check", str(tmp_path / "far.yaml")]) == 0
    told = capsys.readouterr()
    assert "1 script: no fault, 1 caution" in told.out
    assert "finger 3 cannot take fret 12" in told.err


LETTERS = "abcdefghi"
BOMB = "a: &a [1, 1, 1, 1, 1, 1, 1, 1, 1, 1]\n" + "".join(
    f"{name}: &{name} [{', '.join(['*' + before] * 10)}]\n" for before, name in pairwise(LETTERS)
)
BROKEN = {
    "no file": (None, "no such file"),
    "tabs": ("title: x\n\tteacher: y\n", "tab"),
    "unknown key": ("title: x\nteacher: y\nsegmens: []\n", "segments"),
    "twice": ("title: x\ntitle: y\n", "twice"),
    "not a mapping": ("- 1\n- 2\n", "script"),
    "nan": ("title: x\nteacher: y\nframe: {rate: .nan}\n", "number"),
    "bomb": (BOMB, "too many values"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_script_is_told_in_lines_with_a_place(case: str, tmp_path: Path) -> None:
    text, word = BROKEN[case]
    script = tmp_path / "lesson.yaml"
    if text is not None:
        script.write_text(text, "utf-8")
    said = run("build", script, "--out", tmp_path / "build")
    assert said.returncode == 2
    lines = [line for line in said.stderr.splitlines() if not line.startswith("left out")]
    assert lines
    assert any(word in line.lower() for line in lines), said.stderr
    assert all(str(script) in line and ";" in line for line in lines)
    assert "Traceback" not in said.stderr
    assert not (tmp_path / "build").exists()


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    script = tmp_path / "lesson.yaml"
    script.write_bytes(b"title: caf\xe9\n")
    said = run("check", script)
    assert said.returncode == 2
    assert "UTF-8" in said.stderr


def test_faults_of_all_kinds_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO.parent, tmp_path / "kestrel"))
    script = folder / "kestrel.yaml"
    text = script.read_text("utf-8")
    text = text.replace("look: dusk", "look: dask").replace("{show: neck}", "{show: nek}", 1)
    text = text.replace("file: audio/kestrel.flac", "file: ../outside.flac").replace("|-15--p14", "|-35--p14")
    script.write_text(text, "utf-8")
    said = run("check", script)
    assert said.returncode == 2
    lines = said.stderr.splitlines()
    places = [int(re.match(rf"{re.escape(str(script))}:(\d+):\d+: ", line)[1]) for line in lines]  # type: ignore[index]
    assert places == sorted(places)
    for word in ("did you mean 'dusk'", "did you mean 'neck'", "fret 35"):
        assert word in said.stderr
    assert "outside" in said.stderr


def test_an_unknown_scene_is_told_with_the_nearest_name(tmp_path: Path) -> None:
    said = run("build", DEMO, "--scene", "hlaf", "--out", tmp_path / "build")
    assert said.returncode == 2
    assert "did you mean 'half'" in said.stderr


def test_half_a_recording_is_named(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO.parent, tmp_path / "kestrel"))
    sound = folder / "audio" / "kestrel.flac"
    sound.write_bytes(sound.read_bytes()[:100_000])
    said = run(
        "build", folder / "kestrel.yaml", "--scene", "answer", "--only", "sound", "--out", tmp_path / "b"
    )
    assert said.returncode == 2
    assert "kestrel" in said.stderr
    assert "Traceback" not in said.stderr
    assert not list((tmp_path / "b").glob("kestrel/**/*"))


def test_outputs_never_fall_on_others_or_leave_the_build_folder(tmp_path: Path) -> None:
    folders = [tmp_path / name for name in ("one", "two")]
    for folder in folders:
        folder.mkdir()
        shutil.copy(DEMO.parent.parent / "views" / "words.yaml", folder / "Words.yaml")
    shutil.copy(DEMO.parent.parent / "views" / "words.yaml", tmp_path / "...yaml")
    scripts = [*(folder / "Words.yaml" for folder in folders), tmp_path / "...yaml"]
    said = run("build", *scripts, "--only", "credits", "--out", tmp_path / "in" / "b")
    assert said.returncode == 2
    assert "fall on those of" in said.stderr
    assert "gives no name for a folder" in said.stderr
    assert [path.name for path in (tmp_path / "in").iterdir()] == ["b"]
    assert (tmp_path / "in/b/Words/credits.txt").exists()


@pytest.mark.parametrize(
    "wrong", [("build", "x.yaml", "--jobs", "-3"), ("weigh", "x", "y", "--readings", "0")]
)
def test_a_count_out_of_reach_is_told(wrong: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(wrong)
    assert "is no whole number from" in capsys.readouterr().err


def test_weigh_speaks_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["weigh", str(DEMO), "kestrel", "--free", "--json", "--readings", "2"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert len(data["readings"]) == 2
    assert data["margin"] > 0


@pytest.mark.parametrize("order", [["--free", "kestrel"], ["kestrel", "--free"], ["--free"]])
def test_the_only_fragment_need_not_be_named(order: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["weigh", str(DEMO), *order, "--json", "--readings", "1"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out)["fragment"] == "kestrel"
    assert ("fragment kestrel, the only one\n" in said.err) == ("kestrel" not in order)


def test_a_fragment_left_out_before_the_file_to_write(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number, name in enumerate(([], ["kestrel"])):
        assert main(["export", str(DEMO), *name, "--allow-outside", str(tmp_path / f"{number}.txt")]) == 0
    assert (tmp_path / "0.txt").read_bytes() == (tmp_path / "1.txt").read_bytes()
    assert capsys.readouterr().err == "fragment kestrel, the only one\n"


def test_a_chosen_reading_is_written_only_on_request(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO.parent, tmp_path / "kestrel"))
    script = folder / "kestrel.yaml"
    before = script.read_text("utf-8")
    assert main(["weigh", str(script), "kestrel", "--free"]) == 0
    assert script.read_text("utf-8") == before
    assert main(["weigh", str(script), "kestrel", "--free", "--keep", "1"]) == 0
    after = script.read_text("utf-8")
    assert after != before
    assert after.split("clips:")[1] == before.split("clips:")[1]
    assert main(["check", str(script)]) == 0


def test_a_plan_says_why_and_makes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["build", str(DEMO), "--scene", "care", "--plan", "--out", str(tmp_path / "b")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert all(line.startswith("new ") for line in said)
    assert not list((tmp_path / "b").glob("kestrel*"))


def test_clues_heard_in_the_demo_are_offered_and_written_only_on_request(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = Path(shutil.copytree(DEMO.parent, tmp_path / "kestrel"))
    script = folder / "kestrel.yaml"
    before = script.read_text("utf-8")
    assert main(["hear", str(script), "kestrel", "take"]) == 0
    assert re.search(r"note +6 C4 +slurred +strength 0\.\d", capsys.readouterr().out)
    assert script.read_text("utf-8") == before
    assert main(["hear", str(script), "kestrel", "take", "--keep"]) == 0
    assert main(["check", str(script)]) == 0


def test_a_region_holds_the_hand(capsys: pytest.CaptureFixture[str]) -> None:
    command = ["weigh", str(DEMO), "kestrel", "--free", "--json", "--readings", "1", "--clip", "take"]
    assert main([*command, "--region", "5-12"]) == 0
    reading = json.loads(capsys.readouterr().out)["readings"][0]
    assert all(5 <= place["position"] <= 12 for place in reading["places"])
