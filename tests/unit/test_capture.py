"""Capture: each format and orientation on a real encoded file, the sheet in a photo laid flat.

Orientation values: EXIF/TIFF tag 274, the table of rows and columns in the tag's definition.
"""

import io
from pathlib import Path

import numpy as np
import pytest
import render
from PIL import Image, ImageCms

from trace2pop.errors import PictureError
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture import capture

PLAIN = PictureSettings(dpi=300)


def upright() -> np.ndarray:
    """Return a picture whose four corners differ: red, green, blue, black."""
    picture = np.full((60, 90, 3), 220, np.uint8)
    picture[:20, :30] = (200, 20, 20)
    picture[:20, -30:] = (20, 180, 20)
    picture[-20:, :30] = (20, 20, 200)
    picture[-20:, -30:] = 0
    return picture


def saved(tmp_path: Path, name: str, image: Image.Image, **options: object) -> Path:
    path = tmp_path / name
    image.save(path, **options)
    return path


def difference(found: np.ndarray, expected: np.ndarray) -> float:
    return float(np.abs(found.astype(float) - expected).mean())


FORMATS = [
    ("a.png", {}, 0),
    ("a.jpg", {"quality": 95}, 3),
    ("a.webp", {"lossless": True}, 0),
    ("a.tif", {}, 0),
    ("a.tif", {"compression": "tiff_lzw"}, 0),
    ("a.bmp", {}, 0),
]


@pytest.mark.parametrize(("name", "options", "slack"), FORMATS)
def test_formats(tmp_path: Path, name: str, options: dict, slack: float) -> None:
    path = saved(tmp_path, name, Image.fromarray(upright()), **options)
    artwork = capture(path, PLAIN)
    assert artwork.rgb.shape == (60, 90, 3)
    assert difference(artwork.rgb, upright()) <= slack
    assert artwork.scale.mm_per_px == pytest.approx(25.4 / 300)
    assert artwork.px_per_mm == pytest.approx(300 / 25.4)


TURNS = {
    0: None,
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


@pytest.mark.parametrize("value", TURNS)
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_orientation_is_applied_once(tmp_path: Path, value: int, kind: str) -> None:
    stored = Image.fromarray(upright())
    turn = TURNS[value]
    if turn is not None:
        stored = stored.transpose(turn)
    exif = Image.Exif()
    exif[0x0112] = value
    path = saved(tmp_path, f"a.{kind.lower()}", stored, format=kind, exif=exif)
    artwork = capture(path, PLAIN)
    assert artwork.rgb.shape == (60, 90, 3)
    assert difference(artwork.rgb, upright()) < 6
    assert artwork.source_size_px == (90, 60)


def test_sixteen_bit_grey(tmp_path: Path) -> None:
    deep = (upright()[..., 0].astype(np.uint16)) * 257
    artwork = capture(saved(tmp_path, "a.png", Image.fromarray(deep)), PLAIN)
    assert difference(artwork.rgb[..., 0], upright()[..., 0]) < 1


def test_palette_and_transparency(tmp_path: Path) -> None:
    rgba = np.dstack([upright(), np.where(upright()[..., 0] == 220, 0, 255).astype(np.uint8)])
    artwork = capture(saved(tmp_path, "a.png", Image.fromarray(rgba)), PLAIN)
    assert artwork.alpha is not None
    assert np.array_equal(artwork.alpha, rgba[..., 3])
    palette = Image.fromarray(upright()).quantize(16)
    artwork = capture(saved(tmp_path, "b.png", palette), PLAIN)
    assert difference(artwork.rgb, upright()) < 2


def test_cmyk_jpeg(tmp_path: Path) -> None:
    path = saved(tmp_path, "a.jpg", Image.fromarray(upright()).convert("CMYK"), quality=95)
    assert difference(capture(path, PLAIN).rgb, upright()) < 8


def test_colour_profile_is_applied(tmp_path: Path) -> None:
    """A profile with red and blue primaries swapped (ICC.1, tags rXYZ, bXYZ) swaps them back."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    swapped = profile.replace(b"rXYZ", b"????").replace(b"bXYZ", b"rXYZ").replace(b"????", b"bXYZ")
    stored = Image.fromarray(np.ascontiguousarray(upright()[..., ::-1]))
    path = saved(tmp_path, "a.png", stored, icc_profile=swapped)
    assert difference(capture(path, PLAIN).rgb, upright()) < 1.5
    path = saved(tmp_path, "b.png", stored, icc_profile=b"no profile at all")
    assert difference(capture(path, PLAIN).rgb, np.asarray(stored)) == 0


def test_pages(tmp_path: Path) -> None:
    first = Image.fromarray(np.full((40, 40, 3), 10, np.uint8))
    second = Image.fromarray(np.full((40, 40, 3), 200, np.uint8))
    path = saved(tmp_path, "a.tif", first, save_all=True, append_images=[second])
    assert capture(path, PictureSettings(dpi=300, page_number=2)).rgb.mean() == 200
    with pytest.raises(PictureError, match="no page 3"):
        capture(path, PictureSettings(page_number=3))
    pdf = saved(tmp_path, "a.pdf", first.resize((400, 400)), save_all=True, append_images=[second])
    artwork = capture(pdf, PictureSettings(page_number=2))
    assert np.abs(artwork.rgb.astype(int) - 200).max() < 8
    with pytest.raises(PictureError, match="no page 9"):
        capture(pdf, PictureSettings(page_number=9))


def test_a_resolution_tag_is_reported_not_trusted(tmp_path: Path) -> None:
    path = saved(tmp_path, "a.png", Image.fromarray(upright()), dpi=(72, 72))
    artwork = capture(path, PictureSettings())
    assert artwork.scale.source == "none"
    assert [finding.rule for finding in artwork.findings] == ["resolution-tag"]
    assert artwork.findings[0].measured == pytest.approx(72, abs=0.1)


PAGE = render.page_svg(
    '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="210mm" viewBox="0 0 148 210">'
    '<rect x="40" y="60" width="70" height="80" fill="#225588"/></svg>',
    12,
)


@pytest.mark.parametrize("k1", [0.0, 0.02, -0.03])
@pytest.mark.parametrize("tilt", [(0.0, 0.0), (14.0, -9.0)])
def test_the_sheet_is_laid_flat(tmp_path: Path, k1: float, tilt: tuple[float, float]) -> None:
    """Places on the page against the renderer's own matrix; the lens bends by up to 3 %."""
    camera = render.Camera(seed=5, size=(1500, 2000), tilt=tilt, k1=k1, distance=2.3)
    content, view = render.photo(PAGE, camera)
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    artwork = capture(path, PictureSettings(paper="a5"))
    assert artwork.scale.source == "page"
    on_page = np.array([[20, 30], [128, 30], [128, 180], [20, 180], [74, 105.0]])
    pixels = np.column_stack([(on_page - 1.5) * artwork.px_per_mm, np.ones(5)])
    found = artwork.to_source @ pixels.T
    true = view @ np.column_stack([on_page, np.ones(5)]).T
    error_px = np.linalg.norm(found[:2] / found[2] - true[:2] / true[2], axis=0)
    px_per_mm = 1 / artwork.scale.mm_per_px
    assert np.sqrt((error_px**2).mean()) / px_per_mm < 0.15
    blue = artwork.rgb[..., 2].astype(int) - artwork.rgb[..., 0] > 40
    cols = np.nonzero(blue)[1]
    width = (cols.max() - cols.min() + 1) / artwork.px_per_mm
    assert width == pytest.approx(70, abs=0.25)


def test_a_page_without_a_table_is_taken_whole(tmp_path: Path) -> None:
    path = saved(tmp_path, "a.png", Image.fromarray(PAGE[..., :3]))
    artwork = capture(path, PictureSettings(paper="a5"))
    assert artwork.scale.source == "none"
    assert [finding.rule for finding in artwork.findings] == ["page-not-found"]


def test_a_large_picture_is_worked_on_smaller(tmp_path: Path) -> None:
    path = saved(tmp_path, "a.jpg", Image.fromarray(np.full((6000, 9000, 3), 200, np.uint8)))
    artwork = capture(path, PictureSettings(dpi=1200))
    assert max(artwork.rgb.shape) <= 4500
    assert artwork.source_size_px == (9000, 6000)
    assert artwork.rgb.shape[1] / artwork.px_per_mm == pytest.approx(9000 / 1200 * 25.4, rel=1e-3)


def test_damage_is_one_line(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    noise = np.random.default_rng(0).integers(0, 255, (300, 300, 3), np.uint8)
    Image.fromarray(noise).save(buffer, "PNG")
    path = tmp_path / "a.png"
    for cut in (9, 40, 200, len(buffer.getvalue()) // 2):
        path.write_bytes(buffer.getvalue()[:cut])
        with pytest.raises(PictureError) as caught:
            capture(path, PLAIN)
        assert "\n" not in str(caught.value)
