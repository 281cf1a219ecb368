"""report.html: one file, no network, no script, well formed, bounded, with every promised part."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path

import pytest
from conftest import leak
from made_reviews import Said, made_review, write_folder

from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Letter, Outcome, Pair
from vaporqa.report.page import SIZE_LIMIT, page, share
from vaporqa.report.writing import Report
from vaporqa.review import review_folder
from vaporqa.review.values import Review
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

_VOID = {"meta", "link", "br", "img", "hr", "input", "rect", "circle", "path", "col"}


class Reader(HTMLParser):
    """Checks that tags close in order, and gathers ids, links and text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag not in _VOID:
            self.open.append(tag)
        for name, value in attrs:
            self.attributes.append((name, value or ""))
            if name == "id":
                self.ids.append(value or "")
            if name == "href":
                self.links.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        if tag not in _VOID:
            assert self.open.pop() == tag


def page_of(review: Review) -> str:
    report = Report.of(review)
    return page(review, report.tally, report.sentences).decode()


def test_the_page_is_well_formed_and_its_links_meet(review: Review) -> None:
    reader = Reader()
    reader.feed(page_of(review))
    assert reader.open == []
    assert len(reader.ids) == len(set(reader.ids))
    assert all(link.startswith("#") and link[1:] in reader.ids for link in reader.links)


#: The one script of the page: it filters and sorts tables.
SCRIPT = (files("vaporqa.report") / "templates" / "report.js").read_text().rstrip("\n")


def without_script(text: str) -> str:
    assert text.count(f"<script>{SCRIPT}</script>") == 1
    return text.replace(f"<script>{SCRIPT}</script>", "")


def test_nothing_is_loaded_and_only_our_script_may_run(review: Review) -> None:
    text = page_of(review)
    digest = base64.b64encode(hashlib.sha256(SCRIPT.encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in text
    reader = Reader()
    reader.feed(without_script(text))
    assert not reader.tags & {"script", "link", "img", "iframe", "object", "form", "base"}
    assert not [name for name, _ in reader.attributes if name.startswith("on") or name == "src"]
    assert not re.search(r"url\((?!#)|@import|https?://", text)


def test_hostile_text_is_only_text(tmp_path: Path) -> None:
    project = 'project: "<script>alert(1)</script>"\ntime_zone: America/Boise\n'
    results = 'sample_id,analyte,result,unit\n<b>S1,"<img src=x onerror=alert(1)>",1,ug/m3\n'
    folder = write_folder(tmp_path / "yard", project=project, results=results)
    said = [Said(3, "results", 0, Outcome.BROKEN, Pair(Letter.J_PLUS, Letter.NONE))]
    text = without_script(page_of(made_review(folder, said, standing={"results": [1]})))
    assert "&lt;script&gt;alert(1)" in text
    assert "<script" not in text
    assert "<img" not in text
    assert "<b>S1" not in text.replace("<b>&lt;b&gt;S1", "")


def test_the_first_page_says_what_it_must(review: Review) -> None:
    text = " ".join(re.sub(r"<[^>]+>", " ", page_of(review)).split())
    for words in (
        "Larkspur Yard", "property transaction", "profile illinois", "stage 2A",
        "Of 4 results of field samples, none can be used as reported, 2 cannot be relied on",
        "and 2 are rejected", "1 exact copy of another row", "1 result of a blank",
        "the purge volume", "no chain of custody was supplied", "at most 20 %",
        "Buried services must be located and cleared", "rated instruments",
        "licensed professionals outrank", "A licensed professional who knows the site",
    ):  # fmt: skip
        assert words in text


def test_numbers_limits_and_places_stand_in_the_findings(review: Review) -> None:
    text = page_of(review)
    assert "5.05 % of the lowest shroud reading (limit at most 5 %)" in text
    assert "tracer_tests.csv:2" in text
    assert "results.csv:5:5" in text


def test_a_large_run_stays_small_and_says_what_it_leaves_out(tmp_path: Path) -> None:
    rows = 3000
    results = "sample_id,analyte,result,unit\n" + "".join(f"S1,{'x' * 500}{at},1,ug/m3\n" for at in range(rows))
    said = [Said(3, "results", at, Outcome.BROKEN, Pair(Letter.J_PLUS, Letter.NONE)) for at in range(rows)]
    review = made_review(write_folder(tmp_path / "yard", results=results), said, standing={"results": [1] * rows})
    text = page_of(review)
    assert len(text.encode()) < SIZE_LIMIT
    assert "2,988 more of this rule in findings.csv" in text
    assert "The 300 gravest are shown" in text


@pytest.mark.parametrize(
    ("part", "total", "text"), [(0, 5, "0 %"), (5, 5, "100 %"), (1, 100000, "0.1 %"), (99999, 100000, "99.9 %")]
)
def test_a_share_is_all_or_nothing_only_where_it_is(part: int, total: int, text: str) -> None:
    assert share(part, total) == text


def test_a_folder_without_results_has_a_page(tmp_path: Path) -> None:
    review = made_review(write_folder(tmp_path / "yard", results=""), [leak(0, 7.0, 0, "S1", 0)])
    assert "The folder holds no results of field samples" in page_of(review)


def test_one_result_reads_well(tmp_path: Path) -> None:
    results = "sample_id,analyte,result,unit\nS1,Benzene,1,ug/m3\n"
    review = made_review(write_folder(tmp_path / "yard", results=results), standing={"results": [3]})
    assert "Of the one result of field samples, none can be used as reported and 1 is rejected." in page_of(review)


def test_results_of_unknown_kind_are_not_passed_over(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "yard", samples="sample_id,kind\nS1,unknown\nS2,unknown\nB1,unknown\n")
    report = Report.of(made_review(folder, standing={"results": [2, 2, 2, 2, 2, 2]}))
    text = page(report.review, report.tally, report.sentences).decode()
    assert "the kind of the sample is not known for 5 results" in text


def test_review_json_counts_what_the_page_counts(review: Review) -> None:
    from vaporqa.report.machine import as_json, review_json

    report = Report.of(review)
    made = json.loads(as_json(review_json(review, report.tally, report.sentences)))
    assert made["counts"]["results"] == {"usable": 0, "estimated": 0, "unproven": 2, "rejected": 2}
    assert made["counts"]["findings_by_rule"]["leak-tracer-recovery"] == 2
    assert made["counts"]["findings_by_effect"]["reject"] == 1
    assert made["limits_from_memory_used"] == ["leak-tracer-recovery.gross_leak"]
    assert made["coverage"]["missing"][0]["rules"] == ["purge-done"]
    assert made["changes"][0]["after"] == "at most 5 %"
    assert {one["name"] for one in made["files"]} == {
        "project.yaml", "results.csv", "samples.csv", "tracer_tests.csv"
    }  # fmt: skip


def test_the_first_page_says_how_blanks_were_judged_and_what_becomes_of_a_detect_under_its_own_blank() -> None:
    book = load_rulebook()
    project = Project(time_zone="UTC", lab_time_zone="UTC", stage="2A")
    tables = tables_from_text(
        {"results": [{"sample_id": "A", "analyte": "benzene", "result": "3", "unit": "ppbv"}]}, project
    )
    text = page_of(review_folder(project, tables, book))
    assert "By the scheme five-times" in text
    assert "one under its own blank too" in text.split("Limits from memory that were used")[0]
    other = load_rulebook(profiles=["blank-tiers"])
    assert "By the scheme tiers" in page_of(review_folder(project, tables, other))
    without = replace(book, rules=tuple(rule for rule in book.rules if rule.check != "blank"))
    assert "By the scheme" not in page_of(review_folder(project, tables, without))
