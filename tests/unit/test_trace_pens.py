"""Ends of pen strokes, and the links over the gaps between them."""

import cv2
import numpy as np
import pytest

from trace2pop.stages.trace.pens import links_over

PX_PER_MM = 10.0


def _page() -> np.ndarray:
    return np.zeros((800, 800), np.uint8)


def test_a_gap_between_strokes_that_leave_wide_bodies_is_linked() -> None:
    """The bodies are far wider than any stroke; the gap is 2 mm, told to half a millimetre."""
    page = _page()
    for side in (150, 650):
        cv2.circle(page, (side, 400), 120, 1, -1)
    cv2.line(page, (250, 400), (387, 400), 1, 7)
    cv2.line(page, (413, 400), (550, 400), 1, 7)
    (link,) = links_over(page > 0, 2.5, PX_PER_MM)
    assert abs(link.gap - 2.0) < 0.5
    assert np.allclose(sorted([link.start[0], link.end[0]]), [38.9, 41.1], atol=0.5)


def test_wide_bodies_close_together_have_no_ends_to_link() -> None:
    page = _page()
    cv2.rectangle(page, (100, 200), (390, 600), 1, -1)
    cv2.rectangle(page, (405, 200), (700, 600), 1, -1)
    assert links_over(page > 0, 2.5, PX_PER_MM) == []


@pytest.mark.parametrize("wide", [7, 12, 15])
def test_a_gap_rubbed_out_by_a_round_eraser_is_linked(wide: int) -> None:
    """Both ends are hollow, so their skeletons fork; the gap is 2 mm in the middle."""
    page = _page()
    cv2.line(page, (100, 380), (700, 420), 1, wide)
    cv2.circle(page, (400, 400), 10, 0, -1)
    (link,) = links_over(page > 0, 3.0, PX_PER_MM)
    assert abs(link.gap - 2.0) < 0.6
    assert np.allclose(sorted([link.start[0], link.end[0]]), [38.9, 41.1], atol=0.8)


def test_the_toes_of_a_foot_are_no_hollow_end() -> None:
    page = _page()
    for toe in ((300, 500), (400, 520), (500, 500)):
        cv2.line(page, (400, 400), toe, 1, 8)
    cv2.line(page, (400, 100), (400, 400), 1, 8)
    cv2.line(page, (250, 540), (550, 540), 1, 8)
    links = links_over(page > 0, 3.0, PX_PER_MM)
    ends = sorted(round(link.start[0]) for link in links)
    assert ends == [40]
