"""Makes the demo's recording and prints the marks that belong in its script.

Run it from the checkout: `python scenes/kestrel/make_recording.py`. The phrase is played by the project's own
plucked string with the timing and strength of a human hand (seeded), dry and then through an amplifier-like
chain. The marks it prints are the true onsets, so the demo's picture can be held to the sample.
"""

from fractions import Fraction
from pathlib import Path

from pipeline.files.sound import write_flac
from pipeline.lesson.passages import read_passages
from pipeline.lesson.proof import Proof
from pipeline.lesson.script import read_script
from pipeline.lesson.writeback import moment_in_words
from pipeline.sound.amp import amplified
from pipeline.sound.guide import play_dry
from pipeline.sound.human import loosened, strengths
from pipeline.sound.signal import Signal
from pipeline.timing import TimeMap

HERE = Path(__file__).resolve().parent
RATE = 48000
LEAD, TAIL = Fraction(2, 5), Fraction(8, 5)  # seconds of silence before and of ringing after
SEED, SPREAD = 11, 0.0045


def main() -> None:
    fragment = read_passages(Proof(read_script(HERE / "kestrel.yaml")))["kestrel"]
    steady = TimeMap.linear("beat", "clip", Fraction(0), LEAD, 60 / fragment.tempo)
    moments = loosened(steady, [note.onset for note in fragment.notes], SEED, SPREAD, RATE)
    length = steady(fragment.length) + TAIL
    dry = play_dry(fragment, moments, length, RATE, strengths(len(fragment.notes), SEED))
    for name, signal in (("dry", dry), ("kestrel", amplified(dry, drive=9.0))):
        write_flac(HERE / "audio" / f"{name}.flac", Signal(signal.samples, RATE), bits=16)
    for beat, second in moments.points:
        print(f"      {moment_in_words(fragment, beat)}: {float(second):.6f}")


if __name__ == "__main__":
    main()
