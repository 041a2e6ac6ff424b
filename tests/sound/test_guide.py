"""The guide: pitches, techniques and times as written, measured in what it plays."""

from fractions import Fraction

import numpy as np
import pytest

from pipeline.music.fragment import Fragment, Measure
from pipeline.music.guitar import Guitar
from pipeline.music.note import BendPoint, Harmonic, Note
from pipeline.music.pitch import frequency
from pipeline.sound.guide import CEILING, play, play_dry
from pipeline.timing import TimeMap

RATE = 48000
GUITAR = Guitar()
SECONDS = TimeMap.linear("beat", "clip", Fraction(0), Fraction(0), Fraction(1))


def note(onset: float, string: int, fret: int, duration: float = 1, **more: object) -> Note:
    return Note(
        Fraction(onset),
        Fraction(duration),
        GUITAR.pitch(string, fret),
        string,
        fret,
        **more,  # type: ignore[arg-type]
    )


def fragment(*notes: Note) -> Fragment:
    return Fragment("test", GUITAR, notes, (Measure(Fraction(0), Fraction(4)),))


def sound(*notes: Note, seconds: float = 1.0) -> np.ndarray:
    return play_dry(fragment(*notes), SECONDS, Fraction(seconds), RATE).samples[:, 0].astype(float)


def hertz_of(wave: np.ndarray, near: float) -> float:
    size = 2**19
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), size))
    low, high = int(near * 0.96 / RATE * size), int(near * 1.04 / RATE * size)
    peak = low + int(np.argmax(spectrum[low:high]))
    a, b, c = np.log(spectrum[peak - 1 : peak + 2])
    return (peak + 0.5 * (a - c) / (a - 2 * b + c)) * RATE / size


def cents(heard: float, wanted: float) -> float:
    return float(1200 * np.log2(heard / wanted))


def power_near(wave: np.ndarray, hertz: float) -> float:
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)))) ** 2
    place = hertz * len(wave) / RATE
    return float(spectrum[round(place * 0.985) : round(place * 1.015) + 1].sum())


def brightness(wave: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(wave)) ** 2
    return float((spectrum * np.arange(len(spectrum))).sum() / spectrum.sum() * RATE / len(wave))


@pytest.mark.parametrize("string", range(1, 7))
@pytest.mark.parametrize("fret", [0, 7, 24])
def test_every_note_is_in_tune(string: int, fret: int) -> None:
    # MIDI tuning: 440 * 2 ** ((note - 69) / 12), A4 = 440 Hz (ISO 16:1975); within 2 cents
    wanted = frequency(GUITAR.pitch(string, fret))
    assert abs(cents(hertz_of(sound(note(0, string, fret))[2400:], wanted), wanted)) < 2


@pytest.mark.parametrize(
    ("partial", "above"), [(2, 1200.0), (3, 1901.955), (4, 2400.0), (5, 2786.314), (7, 3368.826)]
)
@pytest.mark.parametrize("kind", ["natural", "artificial", "pinch"])
def test_harmonics_sound_at_the_published_pitch(kind: str, partial: int, above: float) -> None:
    # cents of the harmonics of a string: J. P. Fillmore, "Harmonics on the Guitar" (2008), +2 / -14 cents
    played = note(0, 4, 2, harmonic=Harmonic(kind, partial))  # type: ignore[arg-type]
    wave, base = sound(played)[2400:], frequency(GUITAR.pitch(4, 2))
    wanted = base * 2 ** (above / 1200)
    assert abs(cents(hertz_of(wave, wanted), wanted)) < 2
    assert power_near(wave, wanted) > 4 * power_near(wave, base)


def test_a_bend_arrives_and_stays_at_its_pitch() -> None:
    bend = tuple(BendPoint(Fraction(a), Fraction(s)) for a, s in ((0, 0), (Fraction(1, 5), 2), (1, 2)))
    wave = sound(note(0, 2, 8, bend=bend))
    wanted = frequency(GUITAR.pitch(2, 8) + 2)
    assert abs(cents(hertz_of(wave[14400:], wanted), wanted)) < 1
    start = frequency(GUITAR.pitch(2, 8))
    assert abs(cents(hertz_of(wave[:2400], start), start)) < 40


def test_a_prebend_starts_bent() -> None:
    bend = (BendPoint(Fraction(0), Fraction(2)), BendPoint(Fraction(1, 2), Fraction(2)))
    wanted = frequency(GUITAR.pitch(2, 8) + 2)
    assert abs(cents(hertz_of(sound(note(0, 2, 8, bend=bend))[960:14400], wanted), wanted)) < 2


@pytest.mark.parametrize("attack", ["hammer", "pull", "slide", "tap"])
def test_slurred_notes_change_pitch_at_their_onset_and_sound_softer(attack: str) -> None:
    wave = sound(note(0, 3, 5, 0.5), note(0.5, 3, 7, 0.5, attack=attack))
    for begin, end, fret in ((2400, 19200, 5), (24960, 46000, 7)):
        wanted = frequency(GUITAR.pitch(3, fret))
        assert abs(cents(hertz_of(wave[begin:end], wanted), wanted)) < 4
    picked = sound(note(0, 3, 5, 0.5), note(0.5, 3, 7, 0.5))
    assert np.abs(np.diff(wave[23900:24500])).max() < 0.8 * np.abs(np.diff(picked[23900:24500])).max()


def test_a_slide_passes_the_pitches_between() -> None:
    wave = sound(note(0, 3, 5, 0.5), note(0.5, 3, 9, 0.5, attack="slide"))
    between = frequency(GUITAR.pitch(3, 7))
    assert power_near(wave[20640:24000], between) > 20 * power_near(wave[4800:8160], between)


def test_a_tie_goes_on_without_a_new_attack() -> None:
    tied = sound(note(0, 3, 5, 0.5), note(0.5, 3, 5, 0.5, attack="tie"))
    whole = sound(note(0, 3, 5, 1))
    assert np.abs(tied - whole)[: RATE - 300].max() < 0.01 * np.abs(whole).max()


def test_mutes_die_away_sooner() -> None:
    def left(**more: bool) -> float:
        wave = sound(note(0, 6, 3, **more))
        return float(np.std(wave[19200:28800]) / np.std(wave[:4800]))

    assert left(dead=True) < 1e-4 < left(palm_mute=True) < 0.1 < left()


def test_strokes_differ_in_brightness_and_accents_and_ghosts_in_level() -> None:
    down, up = (sound(note(0, 4, 5, stroke=stroke))[:9600] for stroke in ("down", "up"))
    assert 1.05 < brightness(up) / brightness(down) < 1.6
    plain, accent, ghost = (
        np.std(sound(note(0, 4, 5, **m))) for m in ({}, {"accent": True}, {"ghost": True})
    )
    assert ghost < 0.6 * plain < plain < accent


def test_let_ring_outlasts_the_note_and_staccato_ends_early() -> None:
    rings, stops, short = (
        sound(note(0, 3, 0, 0.4, **m)) for m in ({"let_ring": True}, {}, {"staccato": True})
    )
    assert np.std(rings[28800:43200]) > 0.02
    assert np.std(stops[28800:43200]) < 1e-4
    assert np.std(short[14400:18000]) < 0.05 * np.std(stops[14400:18000])


def test_a_tremolo_is_picked_again_and_again() -> None:
    wave = sound(note(0, 2, 5, 1, tremolo=True))
    rough = np.add.reduceat(np.diff(wave) ** 2, np.arange(0, RATE - 1, 600))
    assert (rough[10::10] > 1.5 * rough[8:-2:10]).all()


def test_onsets_fall_on_their_samples_and_grace_notes_before() -> None:
    late = TimeMap.linear("beat", "clip", Fraction(0), Fraction(1, 10), Fraction(1, 2))
    wave = play_dry(fragment(note(1, 3, 5)), late, Fraction(1), RATE).samples[:, 0]
    first = int(np.flatnonzero(np.abs(wave) > 1e-5)[0])
    assert 0 <= first - round(0.6 * RATE) < 24
    graced = sound(note(0.5, 3, 4, 0, grace=True), note(0.5, 3, 5, 0.5, attack="hammer"))
    first = int(np.flatnonzero(np.abs(graced) > 1e-5)[0])
    assert 0.4 * RATE < first < 0.45 * RATE


def test_no_chord_clips_and_equal_calls_are_equal() -> None:
    frets = (0, 0, 1, 2, 2, 0)
    chord = [note(0, string, fret, 2, accent=True) for string, fret in enumerate(frets, start=1)]
    one, two = (play(fragment(*chord), SECONDS, Fraction(1)) for _ in range(2))
    assert one.channels == 2
    assert np.abs(one.samples).max() <= CEILING
    assert np.array_equal(one.samples, two.samples)
    assert not np.array_equal(one.samples[:, 0], one.samples[:, 1])


def test_notes_without_string_or_pitch_are_played_all_the_same() -> None:
    free = [Note(Fraction(0), Fraction(1), 60), Note(Fraction(0), Fraction(1), 64), note(0.5, 6, 0)]
    wave = sound(*free, Note(Fraction(1, 2), Fraction(1, 4), None, 2, None, dead=True))
    for pitch in (60, 64):
        assert abs(cents(hertz_of(wave[2400:20000], frequency(pitch)), frequency(pitch))) < 5


def test_an_excerpt_may_start_in_the_middle_and_end_early() -> None:
    shifted = TimeMap.linear("beat", "clip", Fraction(0), Fraction(-3, 2), Fraction(1))
    wave = play(fragment(note(0, 3, 5, 1), note(1, 3, 7, 2), note(3, 3, 5)), shifted, Fraction(1)).samples
    assert len(wave) == RATE
    assert np.std(wave[:4800]) > 0.01


def test_nothing_written_is_silence() -> None:
    assert not play(fragment(), SECONDS, Fraction(1)).samples.any()
