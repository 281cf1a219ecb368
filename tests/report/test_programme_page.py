"""The roll-up page and tables: what stands on them, what cannot get onto them, and how large they may become."""

from __future__ import annotations

import csv
import html
import io
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from vaporqa.errors import OutputError
from vaporqa.programme import Duplicates, End, Group, Member, Programme, RuleCounts, Summary, pool
from vaporqa.report import programme_page
from vaporqa.report.page import SIZE_LIMIT
from vaporqa.report.programme_files import FILES, prepare, write_programme
from vaporqa.report.programme_text import heading, member_line, programme_text

NORTH = Summary(
    project="North <Yard>", profiles=("landfill",), samples=3, findings=12, results=(30, 8, 2, 0), worst=3,
    rules=(RuleCounts("leak", "Leak & tracer", 2, 0, 8), RuleCounts("purge", "Purge", 0, 4, 0)),
    laboratories=(Group("Laboratory A", (30, 8, 2, 0)),), crews=(Group("", (30, 8, 2, 0)),),
    duplicates=(Duplicates("Benzene", "71-43-2", 2, 1, 1, 0, 40.0, 40.0 / math.sqrt(2)),),
)  # fmt: skip
SOUTH = replace(
    NORTH, project="", results=(0, 0, 0, 5), laboratories=(Group("=Laboratory B", (0, 0, 0, 5)),),
    crews=(Group("", (0, 0, 0, 5)),), duplicates=(),
)  # fmt: skip
LOST = Member("east", "in/east", End.LOST, "in/east: the worker process was killed (SIGKILL)", None)


@pytest.fixture
def programme() -> Programme:
    members = [Member(name, f"in/{name}", End.REVIEWED, "", one) for name, one in (("north", NORTH), ("south", SOUTH))]
    return pool([members[0], LOST, members[1]])


def text_of(page: bytes) -> str:
    """What a person reads: no marks, one blank between words."""
    body = page.decode().partition("<body>")[2]
    body = re.sub(r"<script>.*?</script>|<svg.*?</svg>|<[^>]+>", " ", body, flags=re.DOTALL)
    return " ".join(html.unescape(body).split())


def test_the_page_says_what_is_pooled_and_by_what_words(programme: Programme) -> None:
    text = text_of(programme_page.programme_page(programme))
    # 30 + 0 usable of 40 + 5 results: two thirds.
    assert "2 of 3 folders were reviewed; 30 of 45 results of field samples (67 %) are usable as reported." in text
    assert "east (worker lost) : in/east: the worker process was killed (SIGKILL)" in text
    assert "Leak & tracer leak 2 4 16 0 0" in text
    assert "Never broken, but unproven: 1 rule" in text
    # 10 of 40 failed; 5 of 5 did, but five are few, so that line comes last.
    assert text.index("Laboratory A 1 40 10 (25 %) 0 2 (5 %) 8 (20 %)") < text.index("=Laboratory B (few results) 1 5")
    assert "not stated 2 45" in text
    assert "All analytes 1 2 1 1 0 40 % 28.3 %" in text
    assert "sqrt(sum of (RPD / sqrt(2))^2 / k)" in text
    assert "Fewer than 30: the rate may be chance" in text


def test_the_page_links_to_each_report_and_loads_nothing(programme: Programme) -> None:
    page = programme_page.programme_page(programme).decode()
    assert re.findall(r'href="([^#"][^"]*)"', page) == ["./north/report.html", "./south/report.html"]
    assert "default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-" in page.replace("&#39;", "'")
    assert not re.search(r"\b(src|srcset|action|style|on[a-z]+)=", page.partition("</style>")[2])
    assert "<Yard>" not in page
    assert "North &lt;Yard&gt;" in page


def test_a_programme_of_thousands_stays_small_and_says_what_it_leaves_out() -> None:
    many = [Member(f"yard-{number:05}", "in", End.REVIEWED, "", NORTH) for number in range(9000)]
    page = programme_page.programme_page(pool(many))
    assert len(page) <= SIZE_LIMIT
    assert "more in programme.csv" in text_of(page)


def test_nothing_at_all_still_makes_a_page() -> None:
    text = text_of(programme_page.programme_page(pool([LOST])))
    assert "0 of 1 folder were reviewed; they hold no result of a field sample." in text
    assert "No folder was reviewed." in text
    assert "No folder holds a duplicate pair." in text


def test_tables_hold_the_same_and_no_spreadsheet_runs_them(programme: Programme, tmp_path: Path) -> None:
    out = tmp_path / "out"
    prepare(out, ["north", "east", "south"])
    write_programme(programme, out)
    assert sorted(path.name for path in out.iterdir()) == sorted(FILES)
    read = {name: list(csv.DictReader(io.StringIO((out / name).read_text()))) for name in FILES if ".csv" in name}
    north, east, south = read["programme.csv"]
    assert (north["usable"], north["worst_of_any_row"], north["profiles"]) == ("30", "rejected", "landfill")
    assert (east["end"], east["usable"], east["error"]) == ("worker lost", "", LOST.error)
    assert south["rejected"] == "5"
    labs = read["programme_laboratories.csv"]
    assert [(one["laboratory"], one["failure_rate_percent"], one["few_results"]) for one in labs] == [
        ("Laboratory A", "25", "no"), ("'=Laboratory B", "100", "yes"),
    ]  # fmt: skip
    overall, benzene = read["programme_duplicates.csv"]
    assert overall["analyte"] == ""
    # 40 / sqrt(2), to twelve digits.
    assert benzene["pooled_rsd_percent"] == overall["pooled_rsd_percent"] == "28.2842712475"
    found = json.loads((out / "programme.json").read_bytes())
    assert found["results"] == {"usable": 30, "estimated": 8, "unproven": 2, "rejected": 5}
    assert found["folders"][1]["usable"] is None
    assert found["duplicates"]["by_analyte"][0]["largest_rpd_percent"] == 40.0


def test_a_damaged_earlier_roll_up_is_not_taken_for_ours(programme: Programme, tmp_path: Path) -> None:
    prepare(tmp_path / "out", [])
    write_programme(programme, tmp_path / "out")
    prepare(tmp_path / "out", [])
    assert not list((tmp_path / "out").iterdir())
    for text in ("{", "[]", "[" * 100_000, "{}"):
        (tmp_path / "out" / "programme.json").write_text(text)
        with pytest.raises(OutputError, match="no earlier run wrote"):
            prepare(tmp_path / "out", [])


def test_the_screen_fits_and_numbers_stand_in_columns(programme: Programme) -> None:
    lines = [heading(), *(member_line(member) for member in programme.members)]
    assert [line[:56] for line in lines] == [
        "  worst row       usable estimated  unproven  rejected  ",
        "  ✕ rejected          30         8         2         0  ",
        "  ! worker lost                                         ",
        "  ✕ rejected           0         0         0         5  ",
    ]
    assert [line[56:] for line in lines] == ["folder\n", "north\n", "east\n", "south\n"]
    text = programme_text(programme)
    assert max(map(len, text.splitlines())) <= 80
    assert "leak: 2 folders, 16 results under it" in text
    assert "Laboratory A: 10 of 40 (25 %)" in text
    assert "Crews" not in text  # no folder states one
    assert "Nothing was written" in text
