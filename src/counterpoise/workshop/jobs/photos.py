"""Photos: checked, turned upright, made smaller, written anew, so that no location or other metadata is kept."""

from __future__ import annotations

from io import BytesIO

from PIL import Image, ImageOps, UnidentifiedImageError

from counterpoise.errors import InputError

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 60_000_000
LONG_SIDE = 2400  # pixels; enough to read a type plate
_QUALITY = 88
_KINDS = ("JPEG", "PNG", "WEBP", "GIF", "BMP")
_CARRIES_METADATA = frozenset(
    {0xFE, *range(0xE1, 0xF0)}
)  # JPEG comment and application segments but the first
_START_OF_SCAN = 0xDA


def clean_photo(data: bytes) -> bytes:
    """Return the picture as an upright JPEG without any metadata. Raises InputError where it is no usable photo."""
    if len(data) > MOST_BYTES:
        raise InputError(
            f"The photo has {len(data) / 1e6:.0f} MB, at most {MOST_BYTES / 1e6:.0f} MB are taken",
            field="photo",
            remedy="Take it again at a smaller size",
        )
    picture = _upright(_opened(data))
    bare = Image.new(
        "RGB", picture.size, "white"
    )  # a fresh picture: nothing of the old one's side information
    bare.paste(picture, mask=picture.getchannel("A") if picture.mode == "RGBA" else None)
    out = BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY)
    return out.getvalue()


def is_clean(data: bytes) -> bool:
    """Tell whether these bytes are a JPEG without metadata segments, as :func:`clean_photo` writes them."""
    at = 2
    while data.startswith(b"\xff\xd8") and at + 4 <= len(data) and data[at] == 0xFF:
        if data[at + 1] in _CARRIES_METADATA:
            return False
        if data[at + 1] == _START_OF_SCAN:
            return data.endswith(b"\xff\xd9")
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False


def _opened(data: bytes) -> Image.Image:
    try:
        picture = Image.open(BytesIO(data), formats=_KINDS)
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


def _upright(picture: Image.Image) -> Image.Image:
    """Turn the picture as its orientation mark says, shrink it, and bring it to RGB or RGBA."""
    turned = ImageOps.exif_transpose(picture)
    see_through = turned.mode in {"RGBA", "LA", "PA"} or "transparency" in turned.info
    turned = turned.convert("RGBA" if see_through else "RGB")
    turned.thumbnail((LONG_SIDE, LONG_SIDE))
    return turned
