"""The frames that the library hands out have the shape that they promise, and each breach is caught."""

from __future__ import annotations

from pathlib import Path

import pytest

import vaporqa
from vaporqa.report.flag_shapes import FrameError, check_frame

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"


@pytest.fixture(scope="module")
def frames():
    return vaporqa.check(SAMPLE).flags


def test_every_frame_passes(frames):
    for name, frame in frames.items():
        check_frame(frame, name, len(frame), final=name == "results")


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("standing", "fine"),
        ("qualifier", "X"),
        ("bias", "up"),
        ("key", None),
        ("final_value", "3"),
        ("final_detected", "yes"),
    ],
)
def test_each_breach_is_caught(frames, column, value):
    broken = frames["results"].astype({column: object})
    broken.loc[0, column] = value
    with pytest.raises(FrameError, match=column):
        check_frame(broken, "results", len(broken), final=True)


def test_a_line_too_few_is_caught(frames):
    with pytest.raises(FrameError, match="results"):
        check_frame(frames["results"].iloc[1:], "results", len(frames["results"]), final=True)
