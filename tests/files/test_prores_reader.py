"""Spliced ProRes read by a decoder that shares no code with FFmpeg: turbores, from npm.

An extra: `npm install turbores` in any folder, then name its module in FRETSCENE_TURBORES, for instance
`node_modules/turbores/dist/turbores.js`. Without that, or without node, the test is skipped.
"""

import os
import shutil
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest

from pipeline.files.av_frames import planes_of
from pipeline.files.coders import ProresCoder, coded_frame
from pipeline.files.prores import padded_shape
from tests.benchmarks.encode import RATE
from tests.benchmarks.filmed import drawn

READER = Path(__file__).with_name("prores_reader.mjs")
MODULE, NODE = os.environ.get("FRETSCENE_TURBORES"), shutil.which("node")
FRAMES = 24
TEN_OF_TWELVE = 4
"""The reader gives twelve bits, FFmpeg ten."""


@pytest.mark.skipif(not MODULE or not NODE, reason="turbores or node is not here: see the top of this file")
@pytest.mark.parametrize("size", [(1280, 720), (642, 362)])
def test_another_reader_sees_what_ffmpeg_sees(size: tuple[int, int], tmp_path: Path) -> None:
    coder, coded = ProresCoder(size), coded_frame("prores", size)
    frames = drawn("paged", size, RATE, 0, FRAMES, False)
    packets = [coded.renewed(coder.change(frame)) for frame in frames]
    assert len(set(packets)) > FRAMES // 2, "most frames differ, so most are spliced"
    for theirs, ours in zip(read_elsewhere(packets, size, tmp_path), read_by_ffmpeg(packets), strict=True):
        assert np.abs(theirs / TEN_OF_TWELVE - ours).max() <= 1.0


def read_elsewhere(packets: list[bytes], size: tuple[int, int], folder: Path) -> np.ndarray:
    """Planes (frames, 4, height, width) by turbores."""
    (folder / "packets").write_bytes(b"".join(struct.pack("<I", len(one)) + one for one in packets))
    command = [str(NODE), str(READER), str(MODULE), str(folder / "packets"), str(folder / "planes")]
    subprocess.run(command, check=True, timeout=120)
    rows, columns = padded_shape(*size)
    planes = np.fromfile(folder / "planes", np.uint16).reshape(len(packets), 4, rows, columns)
    return planes[:, :, : size[1], : size[0]]


def read_by_ffmpeg(packets: list[bytes]) -> np.ndarray:
    """Planes (frames, 4, height, width) by FFmpeg."""
    import av

    decoder = av.CodecContext.create("prores", "r")
    frames = [frame for one in packets for frame in decoder.decode(av.Packet(one))]
    return np.array([planes_of(frame, np.uint16) for frame in frames])
