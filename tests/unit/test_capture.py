"""Capture: each format and orientation on a real encoded file, the sheet in a photo laid flat.

Orientation values: EXIF/TIFF tag 274, the table of rows and columns in the tag's definition.
"""

import base64
import io
import sys
from pathlib import Path

import cv2
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


HEIC = (
    # upright() as HEVC in HEIF (ISO/IEC 23008-12), written once with libheif.
    "AAAAHGZ0eXBoZWljAAAAAG1pZjFoZWljbWlhZgAAAX5tZXRhAAAAAAAAACFoZGxyAAAAAAAAAABwaWN0AAAAAAAAAAAA"
    "AAAAAAAAACJpbG9jAAAAAERAAAEAAQAAAAABogABAAAAAAAAANEAAAAjaWluZgAAAAAAAQAAABVpbmZlAgAAAAABAABo"
    "dmMxAAAAAA5waXRtAAAAAAABAAAA/mlwcnAAAADeaXBjbwAAAHdodmNDAQNwAAAAkAAAAAAAHvAA/P34+AAADwNgAAEA"
    "GEABDAH//wNwAAADAJAAAAMAAAMAHroCQGEAAQArQgEBA3AAAAMAkAAAAwAAAwAeoDCBByeW6uSmubgIaDAgAAADAyAA"
    "AAMAIWIAAQAGRAHBc8GJAAAAE2NvbHJuY2x4AAEADQAGgAAAABRpc3BlAAAAAAAAAFoAAABAAAAAKGNsYXAAAABaAAAA"
    "AQAAADwAAAABAAAAAAAAAAL////8AAAAAgAAABBwaXhpAAAAAAMICAgAAAAYaXBtYQAAAAAAAAABAAEFgQIDBYQAAADZ"
    "bWRhdAAAAM0oAa8TQiMgeXMSv/1rlflkAdU1jYf3GPHG2nOmySpUIHxY//pJjGJIy3EbDUgKLunTuBX3wo5uR0zfAvIG"
    "PwO5nIQ1G4eTOZ/6gyMpCy/rx+YM9YDXqOHmLL2CMkHRXYQfz/0mKn/ovLYO5DSb6ubBpvqDEj2SKwZsn6mSJQCv5v9U"
    "1bZuVvv0svpKPQ99gf8r/fnUsAT3j/41jtOpV5AihAXBRwfn4aAmtvHJ9JlC6NvJd8ww0NzpET5AF6L0sRdnFyxHp/8Z"
    "/yaU3Kp+"
)


def test_heic(tmp_path: Path) -> None:
    pytest.importorskip("pi_heif")
    path = tmp_path / "a.heic"
    path.write_bytes(base64.b64decode(HEIC))
    assert difference(capture(path, PLAIN).rgb, upright()) < 6
    path.write_bytes(base64.b64decode(HEIC)[:-200])
    with pytest.raises(PictureError, match=r"a\.heic"):
        capture(path, PLAIN)


def test_heic_without_its_part_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pi_heif", None)
    path = tmp_path / "a.heic"
    path.write_bytes(base64.b64decode(HEIC))
    with pytest.raises(PictureError) as caught:
        capture(path, PLAIN)
    assert "pip install" in caught.value.advice


def test_sixteen_bit_colour_and_one_bit(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    cv2.imwrite(str(path), upright()[..., ::-1].astype(np.uint16) * 257)
    assert difference(capture(path, PLAIN).rgb, upright()) < 1
    path = tmp_path / "a.tif"
    cv2.imwrite(str(path), upright()[..., ::-1].astype(np.uint16) * 257)
    assert difference(capture(path, PLAIN).rgb, upright()) < 1
    ink = upright()[..., 0] < 100
    path = saved(tmp_path, "b.tif", Image.fromarray(ink), compression="group4")
    assert np.array_equal(capture(path, PLAIN).rgb[..., 0] > 128, ink)


def test_a_transparent_colour_and_grey_with_alpha(tmp_path: Path) -> None:
    grey = Image.fromarray(upright()[..., 0])
    path = saved(tmp_path, "a.png", grey, transparency=220)
    alpha = capture(path, PLAIN).alpha
    assert alpha is not None
    assert np.array_equal(alpha == 0, upright()[..., 0] == 220)
    grey.putalpha(Image.fromarray(upright()[..., 2]))
    alpha = capture(saved(tmp_path, "b.png", grey), PLAIN).alpha
    assert np.array_equal(alpha, upright()[..., 2])


def test_reduced_colour_keeps_clear_of_what_is_transparent(tmp_path: Path) -> None:
    """Averaged plainly, a red edge beside transparent green would turn brown."""
    picture = np.zeros((90, 9001, 4), np.uint8)
    picture[...] = (0, 255, 0, 0)
    picture[:, 4000:] = (200, 0, 0, 255)
    artwork = capture(saved(tmp_path, "a.png", Image.fromarray(picture)), PLAIN)
    assert artwork.alpha is not None
    assert artwork.rgb[artwork.alpha > 30].min(axis=0)[0] >= 195
    assert artwork.rgb[artwork.alpha > 30].max(axis=0)[1] <= 3


def test_a_scanning_apps_pdf_comes_at_the_scans_own_resolution(tmp_path: Path) -> None:
    scan = Image.fromarray(np.tile(upright(), (20, 20, 1)))
    path = saved(tmp_path, "a.pdf", scan, resolution=400, quality=95)
    artwork = capture(path, PictureSettings())
    assert artwork.source_size_px == pytest.approx((1800, 1200), abs=1)
    assert [finding.rule for finding in artwork.findings] == ["resolution-tag"]
    assert artwork.findings[0].measured == pytest.approx(400, rel=1e-3)
    path.write_bytes(path.read_bytes()[:300])
    with pytest.raises(PictureError, match="damaged or locked PDF"):
        capture(path, PictureSettings())


def test_nothing_above_twenty_px_per_mm_is_worked_on(tmp_path: Path) -> None:
    path = saved(tmp_path, "a.png", Image.fromarray(np.tile(upright(), (10, 10, 1))))
    artwork = capture(path, PictureSettings(dpi=1200))
    assert artwork.px_per_mm == pytest.approx(20, rel=0.01)
    assert artwork.rgb.shape[1] / artwork.px_per_mm == pytest.approx(900 / 1200 * 25.4, rel=1e-3)
    assert artwork.source_size_px == (900, 600)
    corner = artwork.to_source @ np.array([artwork.rgb.shape[1], artwork.rgb.shape[0], 1])
    assert corner[:2] / corner[2] == pytest.approx((900, 600), abs=1)


def on_table(tmp_path: Path, page: np.ndarray, size: tuple[float, float]) -> Path:
    away = 2.5 if size[1] > size[0] else 3.2
    camera = render.Camera(seed=3, size=(1350, 1800), tilt=(8, -11), turn=7, k1=0.02, distance=away)
    path = tmp_path / "photo.jpg"
    path.write_bytes(render.photo(page, camera, size)[0])
    return path


@pytest.mark.parametrize(
    ("size", "named"),
    [((215.9, 279.4), "letter"), ((230.0, 230.0), "12x12in"), ((148.0, 210.0), None)],
)
def test_a_sheet_is_known_by_its_shape(
    tmp_path: Path, size: tuple[float, float], named: str | None
) -> None:
    page = np.full((round(size[1] * 8), round(size[0] * 8), 4), 250, np.uint8)
    page[400:700, 500:900, :3] = 90
    path = on_table(tmp_path, page, size)
    artwork = capture(path, PictureSettings())
    assert artwork.page is not None
    if named is None:
        assert artwork.scale.source == "none"
        assert [finding.rule for finding in artwork.findings] == ["page-shape"]
    else:
        assert artwork.scale.source == "page"
        assert named in artwork.findings[0].advice
    other = capture(path, PictureSettings(paper="a4" if named else "letter"))
    assert other.scale.source == "none"
    assert other.page is None
    assert other.findings[0].rule == "page-not-found"
    assert other.findings[0].measured == pytest.approx(max(size) / min(size), rel=0.01)


def test_a_frame_drawn_on_the_sheet_is_not_its_edge(tmp_path: Path) -> None:
    page = np.full((1680, 1184, 4), 250, np.uint8)
    cv2.rectangle(page, (100, 142), (1084, 1538), (30, 30, 30, 255), 8)
    scan = saved(tmp_path, "a.png", Image.fromarray(page[..., :3]))
    assert capture(scan, PictureSettings()).page is None
    artwork = capture(on_table(tmp_path, page, (148.0, 210.0)), PictureSettings(paper="a5"))
    assert artwork.page is not None
    dark = artwork.rgb[..., 1] < 90
    cols = np.flatnonzero(dark.sum(axis=0) > 0.4 * len(dark))
    assert np.ptp(cols) / artwork.px_per_mm == pytest.approx(984 / 8 + 1, abs=0.5)


@pytest.mark.parametrize(("paper", "size"), [("a3", (297.0, 420.0)), ("a6", (105.0, 148.0))])
def test_a_sheet_of_any_usual_size_gives_its_millimetres(
    tmp_path: Path, paper: str, size: tuple[float, float]
) -> None:
    """ISO 216, table 1; what lies within 2 mm of the edge is cut off."""
    page = np.full((round(size[1] * 6), round(size[0] * 6), 4), 250, np.uint8)
    page[200:300, 200:400, :3] = 90
    artwork = capture(on_table(tmp_path, page, size), PictureSettings(paper=paper))
    assert artwork.scale.source == "page"
    high, wide = np.array(artwork.rgb.shape[:2]) / artwork.px_per_mm
    assert (wide, high) == pytest.approx(size, abs=4.0)
