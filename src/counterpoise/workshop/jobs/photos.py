"""Photos: checked, turned upright, made smaller, written anew as JPEG.

Writing a picture anew is what frees it of location and other metadata: nothing of the old file's
side information is carried over.
"""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

from counterpoise.errors import InputError

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 60_000_000
# pixels; enough to read a type plate
LONG_SIDE = 2400
_QUALITY = 88
_KINDS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
# JPEG comments and all application segments but the first, which holds no more than the density
_CARRIES_METADATA = frozenset({0xFE, *range(0xE1, 0xF0)})
_START_OF_SCAN = 0xDA


def clean_photo(data: bytes) -> bytes:
    """Return the picture as an upright JPEG without any metadata.

    Raises InputError where it is too large or no picture that can be read.
    """
    # here and below: a list of jobs needs no pictures, and the library takes a moment to load
    from PIL import Image

    # asked before it is opened: decoding is what costs memory
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The photo has {len(data) / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} MB are taken",
            field="photo",
            remedy="Take it again at a smaller size",
        )
    picture = _upright(_opened(data))
    # a fresh picture: nothing of the old one's side information comes along
    bare = Image.new("RGB", picture.size, "white")
    bare.paste(picture, mask=picture.getchannel("A") if picture.mode == "RGBA" else None)
    out = BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def is_clean(data: bytes) -> bool:
    """Whether these bytes are a JPEG without metadata segments, as :func:`clean_photo` writes."""
    at = 2
    while data.startswith(b"\xff\xd8") and at + 4 <= len(data) and data[at] == 0xFF:
        if data[at + 1] in _CARRIES_METADATA:
            return False
        # behind the start of scan there are no segments; what follows the end marker is not ours
        if data[at + 1] == _START_OF_SCAN:
            return data.endswith(b"\xff\xd9")
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False


def _opened(data: bytes) -> Image:
    from PIL import Image, UnidentifiedImageError

    try:
        picture = Image.open(BytesIO(data), formats=_KINDS)
        # a small file can unpack into gigabytes: its size is asked before it is unpacked
        if picture.width * picture.height > MOST_PIXELS:
            raise _too_many(f"{picture.width} by {picture.height}")
        picture.load()
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many("far too many") from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError) as error:
        raise InputError(
            "The photo cannot be read",
            field="photo",
            remedy="Send a whole picture as JPEG, PNG or WebP",
        ) from error
    return picture


def _too_many(size: str) -> InputError:
    return InputError(
        f"The photo has {size} pixels, at most {MOST_PIXELS // 1_000_000} million are taken",
        field="photo",
        remedy="Take it again at a smaller size",
    )


def _upright(picture: Image) -> Image:
    """Turn the picture as its orientation mark says, shrink it, and bring it to RGB or RGBA."""
    from PIL import ImageOps

    # a phone stores the picture as the sensor lay and says how to turn it
    turned = ImageOps.exif_transpose(picture)
    # what is see-through comes out white: a type plate, not a black square
    see_through = turned.mode in {"RGBA", "LA", "PA"} or "transparency" in turned.info
    turned = turned.convert("RGBA" if see_through else "RGB")
    turned.thumbnail((LONG_SIDE, LONG_SIDE))
    return turned
