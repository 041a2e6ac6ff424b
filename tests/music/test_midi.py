"""MIDI in and out against SMF 1.0 bytes and mido (MIT), and what comes back of a fragment."""

import sys
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from fragments import QUICK, at, fragments

from pipeline.errors import Faulty
from pipeline.music.fragment import Fragment
from pipeline.music.guitar import Guitar
from pipeline.music.midi_in import read_midi
from pipeline.music.midi_out import BEND_RANGE, TICKS, write_midi
from pipeline.music.tabtext import read_tab

F = Fraction
TEMPO = F(120)


def phrase(text: str, tempo: Fraction = TEMPO) -> Fragment:
    return read_tab("phrase", text, Guitar(), at, tempo=tempo)


def written(fragment: Fragment) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(write_midi(fragment)))


def sounds(file: mido.MidiFile, kind: str) -> list[tuple[int, mido.Message]]:
    found, tick = [], 0
    for message in file.tracks[1]:
        tick += message.time
        if message.type == kind:
            found.append((tick, message))
    return found


@pytest.mark.parametrize(("bpm", "micros"), [(120, 500_000), (90, 666_667)])
def test_tempo_is_microseconds_a_quarter(bpm: int, micros: int) -> None:
    """SMF 1.0 set tempo; mido 1.3.3 bpm2tempo: 500000 and 666667."""
    data = write_midi(phrase("E4 |5|", F(bpm)))
    assert mido.bpm2tempo(bpm) == micros
    assert b"\xff\x51\x03" + micros.to_bytes(3, "big") in data


def test_the_beat_of_the_tempo_is_the_quarter_in_six_eight_too() -> None:
    """mido counts the beat of the signature (bpm2tempo(120, (6, 8)) = 1000000); ours stays a quarter."""
    file = written(phrase("count 6/8 1\nE4   |----5-|"))
    tempi = [message.tempo for message in file.tracks[0] if message.type == "set_tempo"]
    assert tempi == [500_000]


def test_running_status_and_velocity_nought() -> None:
    """SMF 1.0: two notes of 96 ticks at 96 a quarter, in running status, ended by note-ons of velocity 0."""
    body = bytes.fromhex("00FF510307A12000903C4060 3C00004040604000 00FF2F00".replace(" ", ""))
    head = b"MThd" + (6).to_bytes(4, "big") + bytes.fromhex("000000010060")
    draft = read_midi(head + b"MTrk" + len(body).to_bytes(4, "big") + body, "a.mid")
    notes = [(note.onset, note.duration, note.pitch) for note in draft.fragment.notes]
    assert notes == [(0, 1, 60), (1, 1, 64)]
    assert draft.fragment.tempo == 120


def test_general_midi_steel_guitar_counts_from_nought() -> None:
    """General MIDI Level 1: program 26 counted from 1 is the steel guitar, 25 from 0."""
    programs = {message.program for _, message in sounds(written(phrase("E4 |5|")), "program_change")}
    assert programs == {25}


def test_velocities_follow_the_hands() -> None:
    ons = [m.velocity for _, m in sounds(written(phrase("E4 |5!--5--h7--(5)-|")), "note_on")]
    accented, picked, hammered, ghost = ons
    assert accented > picked > hammered > ghost


def test_a_bend_turns_the_wheel_of_its_string_alone() -> None:
    file = written(phrase("E4 |7b9r7-|\nB3 |5-----|"))
    wheels = [(m.channel, m.pitch * BEND_RANGE / 8192) for _, m in sounds(file, "pitchwheel")]
    assert {semitones for channel, semitones in wheels if channel == 1} == {0}
    bent = [semitones for channel, semitones in wheels if channel == 0]
    assert max(bent) == pytest.approx(2, abs=0.002)
    assert bent[0] == bent[-1] == 0


def test_a_tied_note_may_bend() -> None:
    file = written(phrase("E4 |7-=7b9-|"))
    assert len(sounds(file, "note_on")) == 1
    assert max(m.pitch for _, m in sounds(file, "pitchwheel")) == pytest.approx(2 * 8192 / BEND_RANGE, abs=1)


def test_repeats_are_played_and_ties_held() -> None:
    file = written(phrase("marks        x3\nE4     |:5-=5:|"))
    assert [tick for tick, _ in sounds(file, "note_on")] == [0, 4 * TICKS, 8 * TICKS]
    assert [tick for tick, _ in sounds(file, "note_off")] == [4 * TICKS, 8 * TICKS, 12 * TICKS]


def test_a_natural_harmonic_sounds_its_partial() -> None:
    file = written(phrase("E2 |<7>|"))
    assert [m.note for _, m in sounds(file, "note_on")] == [40 + 19]


@settings(max_examples=15, **QUICK)
@given(fragments())
def test_every_fragment_is_a_file_in_which_all_notes_end(fragment: Fragment) -> None:
    file = written(fragment)
    open_notes: dict[tuple[int, int], int] = {}
    for message in file.tracks[1]:
        if message.type in ("note_on", "note_off"):
            key = (message.channel, message.note)
            open_notes[key] = open_notes.get(key, 0) + (1 if message.type == "note_on" else -1)
            assert open_notes[key] in (0, 1)
    assert not any(open_notes.values())


def test_what_is_written_comes_back_with_its_readings_open() -> None:
    fragment = phrase(
        "count  1       2           3     4   1             3\n"
        "E4    |5-7-8-7-5-7-8-7-8-7-5-8-7-8--|--------------8-|\n"
        "B3    |-----------------------------|5-6-8-5-6-8-5---|\n"
    )
    draft = read_midi(write_midi(fragment), "a.mid").fragment
    assert [(n.onset, n.pitch) for n in draft.notes] == [(n.onset, n.pitch) for n in fragment.notes]
    assert all(note.string is None and note.fret is None for note in draft.notes)
    assert draft.measures == fragment.measures
    assert draft.tempo == fragment.tempo


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-40, 40), min_size=24, max_size=24), st.sampled_from((2, 3, 4, 6)))
def test_a_human_beat_lands_on_its_grid(errors: list[int], shares: int) -> None:
    """Onsets up to 20 ms early or late at 120 beats a minute (40 thousandths of a beat) find their places."""
    track = mido.MidiTrack()
    ticks = [max(0, round((i / shares) * 1000 + errors[i])) for i in range(4 * shares)]
    before = 0
    for tick in sorted(ticks):
        track.append(mido.Message("note_on", note=64, velocity=80, time=tick - before))
        track.append(mido.Message("note_off", note=64, time=20))
        before = tick + 20
    file = mido.MidiFile(ticks_per_beat=1000)
    file.tracks.append(track)
    out = BytesIO()
    file.save(file=out)
    draft = read_midi(out.getvalue(), "a.mid")
    assert [note.onset for note in draft.fragment.notes] == [F(i, shares) for i in range(4 * shares)]


@pytest.mark.parametrize("data", [b"", b"MThd", b"RIFF" + b"\0" * 40, b"MThd" + b"\xff" * 60])
def test_a_bad_file_is_refused_in_one_line(data: bytes) -> None:
    with pytest.raises(Faulty, match=r"a\.mid: .*; ") as caught:
        read_midi(data, "a.mid")
    assert len(str(caught.value).splitlines()) == 1


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 200), st.binary(min_size=1, max_size=4))
def test_a_damaged_file_never_breaks_the_reader(place: int, bytes_: bytes) -> None:
    data = bytearray(write_midi(phrase("E4 |5-7b9-8-|")))
    data[place : place + len(bytes_)] = bytes_
    faults = 0
    try:
        notes = read_midi(bytes(data), "a.mid").fragment.notes
    except Faulty as fault:
        notes, faults = (), len(fault.faults)
    assert faults == 1 or notes


def test_a_track_without_notes_is_refused() -> None:
    data = write_midi(phrase("E4 |5|"))
    with pytest.raises(Faulty, match="track 0 has no notes; tracks with notes: 1"):
        read_midi(data, "a.mid", track=0)


def test_bends_and_notes_out_of_reach_are_warned_of() -> None:
    data = write_midi(phrase("E4 |7b9-22-|"))
    draft = read_midi(data, "a.mid", Guitar(frets=12))
    assert draft.warnings == (
        "bends are not read: add them to the notes",
        "1 notes are beyond the reach of this guitar",
    )
