"""Photos: checked, turned upright, made smaller, written anew as JPEG.

Writing a picture anew is what frees it of location and other metadata: nothing of the old file's
side information is carried over.
"""

from __future__ import annotations

import threading
from io import BytesIO
from typing import TYPE_CHECKING

from counterpoise.errors import InputError, StoreError

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_BYTES = 15 * 1024 * 1024
# Of a plain JPEG, which is unpacked at a half or less. All else is unpacked whole, four bytes a
# pixel, and copied once or twice: what keeps a picture within 150 MB (measured).
MOST_PIXELS = 60_000_000
MOST_WHOLE = 13_000_000
MOST_WEBP = 8_000_000
# two of a phone's pictures at a time; a third waits its turn
AT_ONCE = 2
_PATIENT_S = 30.0
_turns = threading.BoundedSemaphore(AT_ONCE)
# pixels; enough to read a type plate
LONG_SIDE = 2400
_QUALITY = 88
_KINDS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
# JPEG comments and all application segments but the first, which holds no more than the density
_CARRIES_METADATA = frozenset({0xFE, *range(0xE1, 0xF0)})
_START_OF_SCAN = 0xDA
_IN_PASSES = frozenset({0xC2, 0xC6, 0xCA, 0xCE})
# TIFF 6.0, orientation: what has to be done to a picture that is stored so
_ORIENTATION = 0x0112
_TURNS = {
    2: "FLIP_LEFT_RIGHT",
    3: "ROTATE_180",
    4: "FLIP_TOP_BOTTOM",
    5: "TRANSPOSE",
    6: "ROTATE_270",
    7: "TRANSVERSE",
    8: "ROTATE_90",
}


def clean_photo(data: bytes) -> bytes:
    """Return the picture as an upright JPEG without any metadata.

    A few at a time, each within 150 MB. Raises InputError where it is too large or no picture that
    can be read, StoreError where others are before it for too long.
    """
    # asked before it is opened: decoding is what costs memory
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The photo has {len(data) / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} MB are taken",
            field="photo",
            remedy="Take it again at a smaller size",
        )
    if not _turns.acquire(timeout=_PATIENT_S):
        raise StoreError("Many photos came at once", remedy="Send it again in a moment")
    try:
        out = BytesIO()
        _small(data).save(out, "JPEG", quality=_QUALITY)
        return out.getvalue()
    finally:
        _turns.release()


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


def _small(data: bytes) -> Image:
    """The picture upright, at most ``LONG_SIDE`` long, in plain colours and with nothing beside."""
    # here and above: a list of jobs needs no pictures, and the library takes a moment to load
    from PIL import Image

    picture = _decoded(data)
    turn = picture.getexif().get(_ORIENTATION, 1)
    # what is see-through comes out white: a type plate, not a black square
    see_through = picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info
    if see_through:
        # laid on white
        picture = picture.convert("RGBA")
        plain = Image.new("RGB", picture.size, "white")
        plain.paste(picture, mask=picture.getchannel("A"))
    else:
        plain = picture if picture.mode == "RGB" else picture.convert("RGB")
    # let go before the next copy is made: three large ones at once are too many
    del picture
    plain.thumbnail((LONG_SIDE, LONG_SIDE))
    # a phone stores the picture as the sensor lay and says how to turn it
    turned = getattr(Image.Transpose, _TURNS.get(turn, ""), None)
    # a fresh picture: nothing of the old one's side information comes along
    bare = Image.new("RGB", plain.size)
    bare.paste(plain)
    return bare if turned is None else bare.transpose(turned)


def _decoded(data: bytes) -> Image:
    from PIL import Image, UnidentifiedImageError

    try:
        picture = Image.open(BytesIO(data), formats=_KINDS)
        # a small file can unpack into gigabytes: its size is asked before it is unpacked
        pixels, most = picture.width * picture.height, _most_pixels(data, picture)
        if pixels > most:
            raise _too_many(f"{picture.width} by {picture.height}", most)
        # a plain JPEG can be unpacked at a half, a quarter, an eighth
        part = 1
        while pixels > MOST_WHOLE * part**2:
            part *= 2
        picture.draft(None, (max(1, picture.width // part), max(1, picture.height // part)))
        picture.load()
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many("far too many", MOST_PIXELS) from error
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError) as error:
        raise InputError(
            "The photo cannot be read",
            field="photo",
            remedy="Send a whole picture as JPEG, PNG or WebP",
        ) from error
    return picture


def _most_pixels(data: bytes, picture: Image) -> int:
    """How many pixels such a picture may have: many only where it need not be unpacked whole."""
    if picture.format == "JPEG":
        return MOST_PIXELS if _in_one_pass(data, len(picture.getbands())) else MOST_WHOLE
    # its reader keeps three pictures of the full size beside ours
    return MOST_WEBP if picture.format == "WEBP" else MOST_WHOLE


def _in_one_pass(data: bytes, colours: int) -> bool:
    """Whether a JPEG holds all colours in one scan; of several, each must be kept until the end."""
    at = 2
    while at + 5 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        # ITU-T T.81, B.1.1.3: progressive frames, and arithmetic ones
        if marker in _IN_PASSES:
            return False
        if marker == _START_OF_SCAN:
            return data[at + 4] == colours
        # a marker may be preceded by any number of filling bytes
        at += 1 if marker == 0xFF else 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False


def _too_many(size: str, most: int) -> InputError:
    return InputError(
        f"The photo has {size} pixels, at most {most // 1_000_000} million are taken of its kind",
        field="photo",
        remedy="Take it again at a smaller size, or send it as a plain JPEG",
    )
