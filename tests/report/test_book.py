"""The rulebook as acceptance-criteria tables: every rule and limit in force stands there, in both forms."""

from __future__ import annotations

import html
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from vaporqa.cli.rules import command
from vaporqa.errors import UsageError
from vaporqa.report.book import book, book_of, evidence_needed
from vaporqa.rulebook import load_rulebook

SHIPPED = load_rulebook()


def cells(line: str) -> list[str]:
    return [cell.strip() for cell in re.split(r"(?<!\\)\|", line)[1:-1]]


@pytest.fixture(scope="module")
def markdown() -> str:
    return book(SHIPPED, html=False).decode()


def test_every_limit_in_force_is_a_line_with_source_and_backing() -> None:
    lines = [line for chapter in book_of(SHIPPED).chapters for line in chapter.lines]
    on = [rule for rule in SHIPPED.rules if not rule.off]
    assert [line.rule for line in lines if line.rule] == [rule.id for rule in on]
    with_source = [line for line in lines if line.backing]
    assert len(with_source) == sum(len(rule.limits) for rule in on)
    assert all(line.source for line in lines)


def test_a_markdown_row_has_seven_cells(markdown: str) -> None:
    rows = [line for line in markdown.splitlines() if line.startswith("| ") and "`)" in line]
    assert len(rows) == sum(not rule.off for rule in SHIPPED.rules)
    assert {len(cells(line)) for line in rows} == {7}


def test_a_known_criterion_reads_as_its_source_has_it(markdown: str) -> None:
    # Advisory - Active Soil Gas Investigations, California EPA 2015, 4.2.2.2: a leak of 5 %.
    line = cells(next(line for line in markdown.splitlines() if "`leak-tracer-recovery`" in line))
    assert line[1].startswith("at most 5 %")
    assert line[2:4] == ["J-", "UJ"]
    assert "Advisory - Active Soil Gas Investigations" in line[4]
    assert line[5] == "verified"
    assert "shroud_low" in line[6]
    assert line[6].endswith("Without it: unproven")


def test_a_profile_shows_its_limit_and_the_change() -> None:
    made = book(load_rulebook(profiles=["illinois"]), html=False).decode()
    assert "Profile: illinois." in made
    depth = cells(next(line for line in made.splitlines() if "`probe-depth`" in line))
    assert depth[1] == "at least 3 ft"  # Illinois EPA, 35 IAC 742.227
    assert any(cells(line)[:4] == ["illinois", "probe-depth.least", "at least 5 ft", "at least 3 ft"]
               for line in made.splitlines() if line.startswith("| illinois"))  # fmt: skip


class _Balance(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_the_page_is_whole_and_fetches_nothing() -> None:
    page = book(SHIPPED, html=True).decode()
    parser = _Balance()
    parser.feed(page)
    assert parser.open == []
    assert not re.search(r"(src|href)=\"(?!#)", page)
    text = html.unescape(page)
    assert all(rule.id in text and rule.title in text for rule in SHIPPED.rules)


def test_evidence_needed_leaves_out_cases_that_lack_it() -> None:
    needed = evidence_needed(SHIPPED.rule("probe-depth"))
    assert needed.startswith("probes: ")
    assert "depth_top" in needed
    assert "probe_id" not in needed.split(";")[0].replace("probes: ", "")


@pytest.mark.parametrize(("name", "start"), [("book.html", b"<!doctype html>"), ("book.md", b"# Acceptance criteria")])
def test_the_ending_of_the_file_decides_the_form(tmp_path: Path, name: str, start: bytes) -> None:
    words = ["book", "--out", str(tmp_path / name), "--profile", "illinois", "--profile", "bag-72"]
    assert CliRunner().invoke(command, words, catch_exceptions=False).exit_code == 0
    made = (tmp_path / name).read_bytes()
    assert made.startswith(start)
    assert b"illinois, then bag-72" in made


def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"\.html for a page or in \.md"):
        CliRunner().invoke(command, ["book", "--out", str(tmp_path / "book.txt")], catch_exceptions=False)
    assert list(tmp_path.iterdir()) == []
