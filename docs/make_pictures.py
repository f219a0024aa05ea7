"""Makes the pictures of README and docs from the samples, with the program itself.

    python docs/make_pictures.py

writes docs/pictures/: each sample's preview, a page of its guide, a cut sheet and its trace.
"""

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
GUIDE_PAGES = {"adhesive": 5, "slits": 6}
WIDEST_PX = 1200


def main() -> None:
    """Write every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        for name in SAMPLES:
            photo = ROOT / "samples" / name / "photo.jpg"
            card = Path(place) / name
            run("make", photo, "--paper", "a5", "--out", card, "--formats", "svg,png")
            keep(Image.open(card / "preview.png"), f"{name}-preview")
            keep(Image.open(card / "sheets" / "sheet-2.png"), f"{name}-sheet")
        guide = pypdfium2.PdfDocument(Path(place) / SAMPLES[0] / "guide.pdf")
        for title, page in GUIDE_PAGES.items():
            keep(guide[page].render(scale=1.6).to_pil(), f"guide-{title}")
        traced = Path(place) / "trace"
        run("trace", ROOT / "samples" / "wader" / "photo.jpg", "--paper", "a5", "--out", traced)
        keep(Image.open(traced / "trace.png"), "wader-trace")


def run(*arguments: str | Path) -> None:
    """Run the program."""
    subprocess.run([COMMAND, *arguments], check=True, stdout=subprocess.DEVNULL)


def keep(picture: Image.Image, name: str) -> None:
    """Write a picture, no wider than a page shows it, in few colours so that it stays small."""
    picture = picture.convert("RGB")
    if picture.width > WIDEST_PX:
        size = (WIDEST_PX, round(picture.height * WIDEST_PX / picture.width))
        picture = picture.resize(size, Image.Resampling.LANCZOS)
    picture.quantize(192, dither=Image.Dither.FLOYDSTEINBERG).save(
        PICTURES / f"{name}.png", optimize=True
    )


if __name__ == "__main__":
    main()
