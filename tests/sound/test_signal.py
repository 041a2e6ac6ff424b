"""Sound in blocks: nothing lost, nothing added, whatever the blocks were."""

import mmap
import sys
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from pipeline.files.mux import Feed
from pipeline.sound.limit import limited
from pipeline.sound.signal import Signal, blank, blocks_of, exactly, let_go

RATE, SLOW = 48000, 4800
SIZES = (5, 3000, 0, 1, 2999, 4096, 7)


@pytest.fixture
def pieces() -> list[Signal]:
    rng = np.random.default_rng(4)
    return [Signal(rng.uniform(-0.9, 0.9, (size, 2)).astype(np.float32), RATE) for size in SIZES]


def joined(blocks: list[Signal]) -> np.ndarray:
    return np.concatenate([block.samples for block in blocks])


def test_blocks_of_one_size_hold_the_same_sound(pieces: list[Signal]) -> None:
    made = list(blocks_of(iter(pieces), 2048))
    assert [len(block.samples) for block in made] == [2048] * 4 + [sum(SIZES) - 4 * 2048]
    assert np.array_equal(joined(made), joined(pieces))


@pytest.mark.parametrize("length", [1, 3004, 3005, sum(SIZES), sum(SIZES) + 2])
def test_a_length_is_met_to_the_sample(pieces: list[Signal], length: int) -> None:
    made, whole = joined(list(exactly(iter(pieces), length))), joined(pieces)
    assert len(made) == length
    assert np.array_equal(made[: len(whole)], whole[:length])
    assert not made[len(whole) :].any()


@pytest.mark.parametrize("step", [1, 1024, 5000])
def test_a_feed_gives_the_sound_and_then_silence(pieces: list[Signal], step: int) -> None:
    feed, whole = Feed(iter(pieces)), joined(pieces)
    count = -(-len(whole) // step) + 2
    made = np.concatenate([feed.take(step) for _ in range(count)])
    assert (feed.rate, feed.channels) == (RATE, 2)
    assert np.array_equal(made[: len(whole)], whole)
    assert len(made) == count * step
    assert not made[len(whole) :].any()


def test_an_hour_of_scenes_is_right_to_the_sample() -> None:
    """Scenes of 104 frames at 30000/1001 a second are no whole number of samples long; at a low rate."""
    scene = Fraction(104 * 1001, 30000)
    edges = [round(number * scene * SLOW) for number in range(1069)]
    rough = round(scene * SLOW)
    scenes = (
        exactly([Signal(np.full((rough, 1), k, np.float32), SLOW)], edges[k + 1] - edges[k])
        for k in range(1068)
    )
    at, last, starts = 0, -1.0, []
    for block in blocks_of(block for one in scenes for block in one):
        changed = np.flatnonzero(np.diff(block.samples[:, 0], prepend=np.float32(last)))
        starts += [at + int(place) for place in changed]
        at, last = at + len(block.samples), float(block.samples[-1, 0])
    filled = {edges[k + 1] - edges[k] - rough for k in range(1068)}
    assert at == round(1068 * scene * SLOW)
    assert at > 3590 * SLOW
    assert filled <= {0, -1}
    assert starts == edges[:-1]


def test_limiting_in_blocks_is_limiting_the_whole(pieces: list[Signal]) -> None:
    loud = Signal(joined(pieces) * 2, RATE)
    whole, blocks = joined(list(limited([loud], -1.0))), joined(list(limited(blocks_of(loud, 2500), -1.0)))
    assert np.allclose(whole, blocks, atol=1e-6)


def test_long_silence_lies_on_the_disk() -> None:
    long, short = blank((1 << 23) + 1, 2), blank(10, 2)
    assert isinstance(long, np.memmap)
    assert not isinstance(short, np.memmap)
    long[-1] = 1
    assert long[-3:].sum() == 2
    assert short.shape == (10, 2)


def resident() -> int:
    """Pages of mapped files that this process holds."""
    return int(Path("/proc/self/statm").read_text().split()[2])


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc/self/statm")
def test_pages_of_a_long_sound_are_let_go_and_keep_what_they_hold() -> None:
    sound = blank((1 << 24) + 1, 1)
    sound[:] = 0.5
    held = resident()
    let_go(sound[100:200])
    assert held - resident() > 0.9 * sound.nbytes / mmap.PAGESIZE
    assert (sound == 0.5).all()


def test_sound_in_memory_cannot_be_let_go() -> None:
    sound = np.full((1000, 1), 0.5, np.float32)
    let_go(sound)
    assert (sound == 0.5).all()
