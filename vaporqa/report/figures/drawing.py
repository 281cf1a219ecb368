"""A small drawing kit: SVG as strings, every text escaped, every number through one function, texts measured."""

from __future__ import annotations

import html
import math
import unicodedata
from collections.abc import Callable, Iterable

from vaporqa.report.wording import visible

#: Width of a picture in its own units, and the size of its letters. On a telephone (350 px of picture) a unit is
#: 0.73 px, and 13 units are 9.5 px.
WIDTH, LETTERS = 480.0, 13.0
INK, SOFT, DEEP, WASH, LINE, PAPER = "#20292b", "#5a6668", "#24504a", "#eae6d8", "#b9b3a0", "#fdfcf8"

_NARROW, _WIDE, _CAPITAL, _PLAIN = 0.41, 1.0, 0.79, 0.645
_THIN = frozenset("iljtfr.,:;'|!()[] -/I\"·")
_BROAD = frozenset("mwMW@%+<>=≤≥×±→")


def number(value: float) -> str:
    """Return a coordinate: one decimal at most.

    Raises
    ------
    ValueError
        The number is not finite: a picture never holds one that is not.
    """
    if not math.isfinite(value):
        raise ValueError("a picture holds finite numbers only")
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def tag(name: str, content: str = "", /, **attributes: str | float) -> str:
    """Return an element; `content` is markup already, attributes are escaped (`font_size` becomes font-size)."""
    shown = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{html.escape(value) if isinstance(value, str) else number(value)}"'
        for key, value in attributes.items()
        if value != ""
    )
    return f"<{name}{shown}>{content}</{name}>" if content else f"<{name}{shown}/>"


def measured(text: str, size: float = LETTERS) -> float:
    """Return how wide a text may become: rather too much, whatever font the reader has."""
    return size * sum(map(_width, text))


def _width(letter: str) -> float:
    if letter in _THIN:
        return _NARROW
    if letter in _BROAD:
        return _WIDE
    if letter.isascii():
        return _CAPITAL if letter.isupper() else _PLAIN
    return 1.1 if unicodedata.east_asian_width(letter) in "WFA" else 0.9


def cut(text: str, room: float, size: float = LETTERS) -> str:
    """Return foreign text on one line that fits into `room`: the middle goes, since ids differ at their ends.

    Examples
    --------
    >>> cut("SG-01", 100.0), cut("LARKSPUR-YARD-2025-SG-01", 100.0)
    ('SG-01', 'LARKS…5-SG-01')
    """
    text = visible(text, 120)
    if measured(text, size) <= room:
        return text
    keep = len(text)
    while keep > 1:
        keep -= 1
        short = text[: keep // 2] + "…" + text[len(text) - (keep - keep // 2) :]
        if measured(short, size) <= room:
            return short
    return "…"


def words(x: float, y: float, text: str, *, anchor: str = "start", kind: str = "", turn: float = 0.0) -> str:
    """Return a text whose base line is at `y`; `kind` is a class of the page's style."""
    turned = f"rotate({number(turn)} {number(x)} {number(y)})" if turn else ""
    fill = SOFT if kind == "t-soft" else DEEP if kind == "t-limit" else ""
    return tag(
        "text", html.escape(text, quote=False), class_=kind, fill=fill, x=x, y=y,
        text_anchor="" if anchor == "start" else anchor, transform=turned,
    )  # fmt: skip


def line(x1: float, y1: float, x2: float, y2: float, kind: str = "l-axis") -> str:
    """Return a straight line: `l-axis`, `l-grid`, `l-limit` (dashed) or `l-span` (thick)."""
    return tag("path", d=f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}", **_STROKES[kind])


def way(points: Iterable[tuple[float, float]], kind: str) -> str:
    """Return a line through points."""
    return tag("path", d="M" + "L".join(f"{number(x)} {number(y)}" for x, y in points), **_STROKES[kind])


def box(x: float, y: float, width: float, height: float, kind: str = "b-band") -> str:
    """Return a filled box: `b-band` (what the limits allow) or `b-use` (a stretch of time)."""
    return tag("rect", class_=kind, fill=WASH if kind == "b-band" else LINE, x=x, y=y, width=width, height=height)


def outline(points: Iterable[tuple[float, float]], kind: str = "b-band") -> str:
    """Return a filled polygon."""
    text = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return tag("polygon", class_=kind, fill=WASH if kind == "b-band" else LINE, points=text)


#: Attributes for readers that know no style sheet inside a picture, as some makers of PDF; the page's style outranks
#: them.
_STROKES: dict[str, dict[str, str]] = {
    "l-axis": {"class_": "l-axis", "fill": "none", "stroke": SOFT},
    "l-grid": {"class_": "l-grid", "fill": "none", "stroke": WASH},
    "l-limit": {"class_": "l-limit", "fill": "none", "stroke": DEEP, "stroke_width": "1.6", "stroke_dasharray": "6 3"},
    "l-equal": {"class_": "l-equal", "fill": "none", "stroke": SOFT, "stroke_dasharray": "1.5 3"},
    "l-span": {"class_": "l-span", "fill": "none", "stroke": LINE, "stroke_width": "3"},
    "l-chain": {"class_": "l-axis", "fill": "none", "stroke": SOFT, "stroke_width": "1.2"},
}


def picture(name: str, title: str, description: str, height: float, parts: Iterable[str], width: float = WIDTH) -> str:
    """Return a whole picture with its title and description for those who cannot see it."""
    head = tag("title", html.escape(title), id=f"{name}-title") + tag(
        "desc", html.escape(description), id=f"{name}-desc"
    )
    return tag(
        "svg", head + "".join(parts), class_="picture", viewBox=f"0 0 {number(width)} {number(height)}", role="img",
        aria_labelledby=f"{name}-title {name}-desc", font_size=LETTERS, fill=INK,
        font_family="ui-sans-serif, system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'DejaVu Sans', sans-serif",
    )  # fmt: skip


class Free:
    """Finds room for labels: each keeps its box, and none is put where another or a mark already is."""

    def __init__(self, left: float, top: float, right: float, bottom: float) -> None:
        self._frame = (left, top, right, bottom)
        self._taken: list[tuple[float, float, float, float]] = []

    def keep(self, left: float, top: float, right: float, bottom: float) -> None:
        """Take a box out of the free room."""
        self._taken.append((left, top, right, bottom))

    def label(self, x: float, y: float, text: str, kind: str = "", gap: float = 8.0) -> str:
        """Return a text beside a point, right, left, above or below it; empty where there is no room."""
        width = measured(text)
        places: tuple[tuple[float, float, str, Callable[[float], float]], ...] = (
            (x + gap, y + 4.5, "start", lambda at: at), (x - gap, y + 4.5, "end", lambda at: at - width),
            (x, y - gap, "middle", lambda at: at - width / 2), (x, y + gap + 9, "middle", lambda at: at - width / 2),
        )  # fmt: skip
        for at, base, anchor, left_of in places:
            left = left_of(at)
            asked = (left - 1, base - 11, left + width + 1, base + 3)
            if self._inside(asked) and not any(_meet(asked, other) for other in self._taken):
                self.keep(*asked)
                return words(at, base, text, anchor=anchor, kind=kind)
        return ""

    def _inside(self, asked: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = self._frame
        return asked[0] >= left and asked[1] >= top and asked[2] <= right and asked[3] <= bottom


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
