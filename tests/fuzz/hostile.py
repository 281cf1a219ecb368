"""Bytes that nobody meant: random ones, and valid files with pieces cut out, put in, doubled or turned round."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from vaporqa.errors import VaporqaError

#: A deeper run: VAPORQA_FUZZ=2000 pytest tests/fuzz
DEEPER = int(os.environ.get("VAPORQA_FUZZ", "0"))
#: No input of these sizes may take longer, on a machine that does other things meanwhile.
SECONDS = 10.0

PIECES = (
    b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b'""', b",", b";", b"\t", b"\r", b"\n", b"\r\n", b"\x85",
    b"\xe2\x80\xa8", b"\x1b[2J", b"::error::", b"=1+1", b"-", b"1e999", b"-1e-999", b"nan", b"NaN", b"inf", b"<",
    b"<<", b"< 1 U", b"9" * 400, b"1970-01-01", b"0000-00-00", b"9999-12-31T23:59:59", b"24:00", b"31/02/2024",
    b"1.234,5", b"[", b"]", b"{", b"}", b"[]", b"{}", b": ", b"- ", b"&a ", b"*a", b"!!python/object ", b"? ",
    b"| ", b"> ", b"~", b"null", b"yes", b"true", b"0", b"-1", b"1.5", b"%", b"\\", b"../", b"/etc/passwd", b"*",
    b"**", b"**/**", b"\xf0\x9f\x92\xa7", b"\xd9\xa1", b"\xc2\xb5g/m\xc2\xb3", b"a" * 5000, b"PK\x03\x04", b"PAR1",
    b"#", b"---\n", b"...\n",
)  # fmt: skip


def many(usual: int) -> settings:
    """So many examples, or as many as VAPORQA_FUZZ asks for."""
    return settings(
        max_examples=DEEPER or usual, deadline=None, derandomize=not DEEPER,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
    )  # fmt: skip


def anything(at_most: int = 300) -> st.SearchStrategy[bytes]:
    """Random bytes, and pieces that mean something to some reader, one after the other."""
    parts = st.one_of(st.binary(max_size=12), st.sampled_from(PIECES))
    return st.lists(parts, max_size=at_most // 8).map(b"".join)


@st.composite
def mutated(draw: st.DrawFn, bases: Sequence[bytes], by_line: bool = False) -> bytes:
    """A valid file after one to six edits."""
    data = draw(st.sampled_from(list(bases)))
    for _ in range(draw(st.integers(1, 6))):
        lines = data.splitlines(keepends=True) if by_line and draw(st.booleans()) else []
        if lines:
            one, other = (draw(st.integers(0, len(lines) - 1)) for _ in range(2))
            lines[one], lines[other] = draw(
                st.sampled_from([(lines[other], lines[one]), (lines[one], lines[one]), (b"", lines[other])])
            )
            data = b"".join(lines)
            continue
        place, length = draw(st.integers(0, len(data))), draw(st.sampled_from((0, 0, 1, 2, 7, 40, 1000)))
        piece = draw(
            st.one_of(st.sampled_from(PIECES), st.binary(max_size=6), st.just(data[place : place + length] * 2))
        )
        data = data[:place] + piece + data[place + length :]
    return data


def survives(reading: Callable[[], object]) -> object:
    """Call what reads; it may only return or say what is wrong, each problem with a message, within the time."""
    began = time.monotonic()
    try:
        return reading()
    except VaporqaError as error:
        assert error.problems
        assert all(problem.message for problem in error.problems)
        return None
    finally:
        assert time.monotonic() - began < SECONDS
