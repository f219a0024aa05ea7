"""Inputs that fuzzing found, each of which once ended a reader with a traceback."""

import base64
import zlib
from pathlib import Path

import pytest

from trace2pop.errors import PictureError
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture import capture

TIFF_OFFSET_OF_NO_WHOLE_NUMBER = (
    "c-r&y)MDUZU|`^4U|?inU<9%>fS3`9&BVwIW-9<OGn5U&Y)EWDMs6_O2E<}Wdc~n?7$g}OWY`eugQ4QgAUP`#(O?h3"
    "K=A)IgEIpM8yh<tD+fC}J6N2P69B%W2k-"
)


def test_a_tiff_whose_data_lie_between_two_bytes(tmp_path: Path) -> None:
    picture = tmp_path / "a.tif"
    picture.write_bytes(zlib.decompress(base64.b85decode(TIFF_OFFSET_OF_NO_WHOLE_NUMBER)))
    with pytest.raises(PictureError, match="damaged"):
        capture(picture, PictureSettings())


@pytest.mark.parametrize("side", ["11e30800", "1e-320", "1e300mm"])
def test_a_drawing_as_high_as_no_number(side: str, tmp_path: Path) -> None:
    """It is taken as a drawing that states no size."""
    picture = tmp_path / "a.svg"
    picture.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="179" height="{side}">'
        '<polygon points="1,1 30,2 20,40"/></svg>'
    )
    assert capture(picture, PictureSettings()).scale.source == "none"


def test_a_shape_as_high_as_no_number(tmp_path: Path) -> None:
    picture = tmp_path / "a.svg"
    picture.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">'
        '<rect x="2" y="1e999%" width="30" rx="2" height="12"/></svg>'
    )
    with pytest.raises(PictureError, match="no shape"):
        capture(picture, PictureSettings())
