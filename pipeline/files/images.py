"""Pictures in: PNG and JPEG alone, of a size that memory can bear, upright, as straight RGBA."""

import hashlib
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from pipeline.drawing.picture import Pixels
from pipeline.errors import Place, faulty

SUFFIXES = (".png", ".jpg", ".jpeg")
FORMATS = ("PNG", "JPEG")
MOST_PIXELS = 40_000_000
RESAVE = "save it again as png or jpeg"


def is_image(path: Path) -> bool:
    """Whether a file's name says that it is a picture."""
    return path.suffix.lower() in SUFFIXES


def check_image(path: Path, place: Place) -> None:
    """Raise Faulty at `place` for a file that is no PNG or JPEG, or is too large; its pixels are not read."""
    with _opened(path, place):
        pass


def read_image(path: Path, place: Place, room: tuple[int, int], shape: float = 0.0) -> Pixels:
    """The picture, upright, cut about its middle to `shape` (width to height; 0 keeps its own), and made
    smaller where it is larger than `room`. Raises Faulty at `place`."""
    with _opened(path, place) as image:
        from PIL import ImageOps

        upright = _cut(ImageOps.exif_transpose(image).convert("RGBA"), shape)
        upright.thumbnail(room)
        width, height, data = upright.width, upright.height, upright.tobytes()
    return Pixels(width, height, hashlib.sha256(data).hexdigest(), data)


def _cut(image: Any, shape: float) -> Any:
    if shape <= 0:
        return image
    wide = max(1, min(image.width, round(image.height * shape)))
    high = max(1, min(image.height, round(image.width / shape)))
    left, top = (image.width - wide) // 2, (image.height - high) // 2
    return image.crop((left, top, left + wide, top + high))


@contextmanager
def _opened(path: Path, place: Place) -> Iterator[Any]:
    """An open picture of which only the head was read. What goes wrong with it is told at `place`."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path, formats=FORMATS) as image:
                if image.width * image.height > MOST_PIXELS:
                    wrong = f"{path.name} has {image.width}x{image.height} pixels"
                    raise faulty(place, wrong, "make it smaller: 40 million pixels at most")
                yield image
    except UnidentifiedImageError:
        raise faulty(place, f"{path.name} is no picture of a known kind", RESAVE) from None
    except Image.DecompressionBombError:
        raise faulty(place, f"{path.name} is too large", "40 million pixels at most") from None
    except (OSError, SyntaxError, ValueError) as failure:
        raise faulty(place, f"{path.name} cannot be read ({failure})", RESAVE) from None
