import subprocess
import sys
from io import BytesIO

import pytest
from PIL import Image, PngImagePlugin

from counterpoise.errors import InputError, NotFoundError, StoreError
from counterpoise.workshop.jobs import photos
from counterpoise.workshop.jobs.photos import LONG_SIDE, is_clean

RED, BLUE = (250, 0, 0), (0, 0, 250)


def _halves(size=(80, 40)):
    """A picture that is red on the left and blue on the right."""
    picture = Image.new("RGB", size, RED)
    picture.paste(BLUE, (size[0] // 2, 0, *size))
    return picture


def _saved(picture, kind, **options):
    out = BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def _exif():
    exif = Image.Exif()
    exif[0x0112] = 6  # to be shown turned a quarter clockwise
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)})
    return exif


def test_a_photo_loses_its_location_but_stays_upright(store):
    sent = _saved(_halves(), "JPEG", exif=_exif(), comment=b"SECRETREMARK")
    assert b"SECRETMAKER" in sent
    kept = store.photos.get(store.photos.add(sent))
    picture = Image.open(BytesIO(kept))
    assert picture.size == (40, 80)
    assert picture.getpixel((20, 10))[0] > 200  # what was left is now above
    assert picture.getpixel((20, 70))[2] > 200
    assert dict(picture.getexif()) == {}
    assert b"SECRET" not in kept
    assert is_clean(kept)
    assert not is_clean(sent)


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "GIF", "BMP"])
def test_other_kinds_of_picture_become_a_plain_jpeg(store, kind):
    kept = store.photos.get(store.photos.add(_saved(_halves(), kind)))
    picture = Image.open(BytesIO(kept))
    assert (picture.format, picture.size) == ("JPEG", (80, 40))
    assert picture.getpixel((10, 10))[0] > 200


def test_texts_in_a_png_and_the_see_through_go(store):
    notes = PngImagePlugin.PngInfo()
    notes.add_text("place", "SECRETPLACE")
    kept = store.photos.get(
        store.photos.add(_saved(Image.new("RGBA", (9, 9), (0, 0, 0, 0)), "PNG", pnginfo=notes))
    )
    assert b"SECRET" not in kept
    assert min(Image.open(BytesIO(kept)).getpixel((4, 4))) > 250


def test_a_large_photo_is_made_smaller(store):
    kept = store.photos.get(store.photos.add(_saved(_halves((4000, 1000)), "JPEG")))
    assert Image.open(BytesIO(kept)).size == (LONG_SIDE, LONG_SIDE // 4)


def test_the_same_photo_is_kept_once(store):
    sent = _saved(_halves(), "PNG")
    assert store.photos.add(sent) == store.photos.add(sent)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "cannot be read. Send a whole picture"),
        (b"hello", "cannot be read"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "cannot be read"),
        (_saved(_halves((400, 400)), "JPEG")[:900], "cannot be read"),
        (_saved(_halves((400, 400)), "PNG")[:300], "cannot be read"),
        (bytes(50 * 1024 * 1024), "has 52 MB, at most 16 MB are taken"),
        (_saved(Image.new("1", (7700, 7700)), "PNG"), "7700 by 7700 pixels, at most 13 million"),
        (_saved(Image.new("1", (4000, 3000)), "WEBP"), "4000 by 3000 pixels, at most 8 million"),
        (
            _saved(Image.new("L", (4000, 4000)), "JPEG", progressive=True),
            "4000 by 4000 pixels, at most 13 million",
        ),
        (_saved(Image.new("L", (8000, 8000)), "JPEG"), "8000 by 8000 pixels, at most 60 million"),
        (_saved(Image.new("1", (20_000, 20_000)), "PNG"), "far too many pixels"),
    ],
    ids=[
        "empty",
        "text",
        "drawing",
        "half a JPEG",
        "half a PNG",
        "50 MB",
        "59 million pixels",
        "12 million of WebP",
        "16 million in passes",
        "64 million of JPEG",
        "bomb",
    ],
)
def test_what_is_no_usable_photo_is_refused_with_the_remedy(store, data, message):
    with pytest.raises(InputError, match=message) as caught:
        store.photos.add(data)
    assert caught.value.field == "photo"
    assert caught.value.remedy


def test_a_photo_that_is_not_there(store):
    with pytest.raises(NotFoundError):
        store.photos.get("nothing")


# The most a process took while one photo was cleaned, over what it took before, in MiB. A photo of
# one colour packs well: what is sent is small.
_PEAK = """
import io, sys
from PIL import Image
from counterpoise.workshop.jobs.photos import clean_photo
clean_photo(open(sys.argv[1], "rb").read())
data = open(sys.argv[2], "rb").read()
def most():
    return next(int(l.split()[1]) for l in open("/proc/self/status") if l.startswith("VmHWM"))
open("/proc/self/clear_refs", "w").write("5")
before = most()
clean_photo(data)
print((most() - before) / 1024)
"""


@pytest.mark.parametrize(
    ("kind", "mode", "size"),
    [
        ("JPEG", "RGB", (8900, 6700)),
        ("JPEG", "CMYK", (4100, 3100)),
        ("PNG", "RGBA", (4100, 3100)),
        ("WEBP", "RGBA", (3200, 2450)),
    ],
)
def test_no_photo_costs_more_than_a_hundred_and_fifty_megabytes(tmp_path, kind, mode, size):
    small, large = tmp_path / "small", tmp_path / "large"
    small.write_bytes(_saved(_halves(), kind))
    large.write_bytes(_saved(Image.new(mode, size), kind))
    assert len(large.read_bytes()) < 1_100_000
    command = [sys.executable, "-c", _PEAK, str(small), str(large)]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert 0 < float(said) < 150


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_way_a_phone_can_be_held_comes_out_upright(store, orientation):
    from PIL import ImageOps

    exif = Image.Exif()
    exif[0x0112] = orientation
    sent = _saved(_halves((80, 40)), "JPEG", exif=exif)
    kept = Image.open(BytesIO(store.photos.get(store.photos.add(sent))))
    upright = ImageOps.exif_transpose(Image.open(BytesIO(sent)))
    assert kept.size == upright.size
    for at in ((5, 5), (upright.width - 6, upright.height - 6)):
        assert kept.getpixel(at)[0] == pytest.approx(upright.getpixel(at)[0], abs=12)


def test_photos_wait_their_turn_and_are_told_so(monkeypatch):
    monkeypatch.setattr(photos, "_PATIENT_S", 0.01)
    for _ in range(photos.AT_ONCE):
        assert photos._turns.acquire(timeout=1)
    try:
        with pytest.raises(StoreError, match="again in a moment"):
            photos.clean_photo(_saved(_halves(), "JPEG"))
    finally:
        for _ in range(photos.AT_ONCE):
            photos._turns.release()
    assert is_clean(photos.clean_photo(_saved(_halves(), "JPEG")))
