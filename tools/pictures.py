"""Pictures of the pages for README and tour: ``python -m tools.pictures`` (``make pictures``).

Plays docs/tour.md in the invented workshop of the demo and takes a picture wherever it says so, as
a phone shows it. Small PNGs: a picture of a page has few colours.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

from tools.tour import PICTURES, TOUR, Player, cues, empty_workshop

PHONE_WIDE = 360
_SHARP = 2  # pixels of the picture to one of the page: read on any screen
_COLOURS = 64
MOST_BYTES = 150_000


def main() -> int:
    """Write the pictures; returns 1 where the tour is not true or a picture is too heavy."""
    import httpx
    from PIL import Image
    from tests.web.browser import chromium, served

    from counterpoise.web.app import create_app

    PICTURES.mkdir(exist_ok=True)
    heavy: list[str] = []
    with (
        tempfile.TemporaryDirectory() as folder,
        served(create_app(empty_workshop(Path(folder)))) as address,
        chromium() as browser,
    ):

        def shoot(path: str, name: str, high: int, top: int) -> None:
            page = browser.new_page(
                viewport={"width": PHONE_WIDE, "height": high}, device_scale_factor=_SHARP
            )
            page.goto(address + path, timeout=600_000)
            shot = page.screenshot(
                full_page=bool(top),
                clip={"x": 0, "y": top, "width": PHONE_WIDE, "height": high},
            )
            drawn = Image.open(io.BytesIO(shot)).convert("RGB")
            page.close()
            # no dithering: letters stay sharp, and flat paper packs small
            small = drawn.quantize(_COLOURS, dither=Image.Dither.NONE)
            small.save(PICTURES / name, optimize=True)
            size = (PICTURES / name).stat().st_size
            print(f"{name}: {size / 1000:.0f} kB")
            if size > MOST_BYTES:
                heavy.append(name)

        player = Player(httpx.Client(base_url=address, timeout=600), shoot)
        for cue in cues(TOUR.read_text("utf-8")):
            player.play(cue)
    for line in (*player.mistakes, *(f"{name} is too heavy" for name in heavy)):
        print(line)
    return bool(player.mistakes or heavy)


if __name__ == "__main__":
    sys.exit(main())
