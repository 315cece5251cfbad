"""Photos of a record as small JPEG files without metadata, or one sentence on why there is none."""

from base64 import b64encode
from io import BytesIO
from pathlib import Path
from typing import NamedTuple
from warnings import catch_warnings, simplefilter

_WIDEST = 720
_MOST_PIXELS = 60_000_000
_MOST_BYTES = 60_000_000
_TOO_LARGE = "the picture has more than 60 million pixels: not opened"
_FORMATS = ("JPEG", "PNG", "WEBP", "BMP", "TIFF", "GIF")


class Photo(NamedTuple):
    """`data` is base64 of a JPEG; empty, and `notice` filled, where the picture could not be shown. Sizes in pixels."""

    data: str = ""
    width: int = 0
    height: int = 0
    notice: str = ""


def load(folder: str, name: str) -> Photo:
    """The photo `name` below the record's folder; never reads outside it and never raises."""
    root = Path(folder).resolve()
    try:
        path = (root / name).resolve()
        if not path.is_relative_to(root):
            return Photo(notice="the path leaves the record's folder: not read")
        if not path.is_file():
            return Photo(notice="the file is missing")
        if path.stat().st_size > _MOST_BYTES:
            return Photo(notice="the file is larger than 60 MB: not read")
        return _scaled(path.read_bytes())
    except (OSError, ValueError):
        return Photo(notice="the file cannot be read")


def _scaled(raw: bytes) -> Photo:
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with catch_warnings():
            simplefilter("ignore")
            with Image.open(BytesIO(raw), formats=_FORMATS) as image:
                if image.width * image.height > _MOST_PIXELS:
                    return Photo(notice=_TOO_LARGE)
                image.draft("RGB", (2 * _WIDEST, 2 * _WIDEST))
                upright = ImageOps.exif_transpose(image).convert("RGB")
                upright.thumbnail((_WIDEST, _WIDEST))
                out = BytesIO()
                upright.save(out, "JPEG", quality=78, optimize=True)
    except Image.DecompressionBombError:
        return Photo(notice=_TOO_LARGE)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError):
        return Photo(notice="the file is no picture that can be opened")
    return Photo(b64encode(out.getvalue()).decode("ascii"), upright.width, upright.height)
