"""Makes the pictures of README and docs from the samples, with the program itself.

    python docs/make_pictures.py

writes docs/pictures/: each sample's preview and cut sheet, pages of a guide, traces, maps, a film.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pypdfium2
from PIL import Image

ROOT = Path(__file__).parent.parent
PICTURES = ROOT / "docs" / "pictures"
COMMAND = Path(sys.executable).with_name("trace2pop")
SAMPLES = ("dragonfly", "wader", "lily")
GUIDE_PAGES = {
    "pieces": "The pieces",
    "beams": "Fold the beams",
    "adhesive": "Put adhesive on the beams: two faces!",
    "slits": "Push the beams up through the base",
    "motif": "Put on the motif, one half at a time",
    "outer": "Put it into the outer card",
    "check": "Look before you send it",
    "template": "Placing template, seen from behind",
}
"""Pages of the guide by a heading on them."""
MAPS = ("trace", "sag", "thickness", "sizes")
WIDEST_PX = 1200


def main() -> None:
    """Write every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        for name in SAMPLES:
            photo = ROOT / "samples" / name / "photo.jpg"
            card = Path(place) / name
            named = ("--title", name.capitalize())
            run("make", photo, "--paper", "a5", *named, "--out", card, "--formats", "svg,png")
            keep(Image.open(card / "preview.png"), f"{name}-preview", colours=None)
            keep(Image.open(card / "sheets" / "sheet-2.png"), f"{name}-sheet")
        first = Path(place) / SAMPLES[0]
        guide = pypdfium2.PdfDocument(first / "guide.pdf")
        pages = {mark.get_title(): mark.get_dest().get_index() for mark in guide.get_toc()}
        for name, heading in GUIDE_PAGES.items():
            page = next(number for title, number in pages.items() if title.endswith(heading))
            keep(guide[page].render(scale=1.6).to_pil(), f"guide-{name}")
        for name in MAPS:
            keep(Image.open(first / "pictures" / f"{name}.png"), f"{SAMPLES[0]}-{name}")
        shutil.copyfile(first / "preview.gif", PICTURES / f"{SAMPLES[0]}-preview.gif")
        traced = Path(place) / "trace"
        run("trace", ROOT / "samples" / "wader" / "photo.jpg", "--paper", "a5", "--out", traced)
        keep(Image.open(traced / "trace.png"), "wader-trace")


def run(*arguments: str | Path) -> None:
    """Run the program."""
    subprocess.run([COMMAND, *arguments], check=True, stdout=subprocess.DEVNULL)


def keep(picture: Image.Image, name: str, colours: int | None = 192) -> None:
    """Write a picture, no wider than a page shows it; drawings in few colours, to stay small."""
    picture = picture.convert("RGB")
    if picture.width > WIDEST_PX:
        size = (WIDEST_PX, round(picture.height * WIDEST_PX / picture.width))
        picture = picture.resize(size, Image.Resampling.LANCZOS)
    if colours is not None:
        picture = picture.quantize(colours, dither=Image.Dither.FLOYDSTEINBERG)
    picture.save(PICTURES / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
