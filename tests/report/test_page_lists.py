"""Samples, pairs, blanks and quoted lines on the page, held against what the sample folder's files say."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import vaporqa
from vaporqa.report.by_sample import by_sample
from vaporqa.report.file_lines import FileLines
from vaporqa.report.page import page
from vaporqa.report.pairs_and_blanks import blank_lines, pair_lines

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "cutbank-terminal"


def rows_of(name: str) -> list[dict[str, str]]:
    with (SAMPLE / name).open(newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def report():
    return vaporqa.check(SAMPLE).report


def test_a_sample_lists_what_reaches_all_of_it_and_counts_the_rest(report):
    lines = FileLines(report.review, 2000)
    samples, total = by_sample(report.review, report.sentences, lines, samples=500, reasons=50)
    flags = vaporqa.check(SAMPLE).flags["results"]
    kinds = {row["sample_id"]: row["kind"] for row in rows_of("samples.csv")}
    field = flags[flags["kind"].isin(["", "target", "tentative"]) & flags["final_in_use"].fillna(True).astype(bool)]
    field = field[[kinds.get(one) in ("primary", "field_duplicate", "field_replicate") for one in field["sample_id"]]]
    wanted = set(field[field["standing"] != "usable"]["sample_id"])
    assert {one.name for one in samples} == wanted
    assert total == len(wanted)
    by_name = {one.name: one for one in samples}
    for name in sorted(wanted):
        mine = field[field["sample_id"] == name]["standing"].value_counts().to_dict()
        assert {word: number for word, _, number in by_name[name].standings} == mine
    purge = next(one for one in by_name["CT-A02"].findings if one.rule == "purge-vacuum")
    assert purge.place.startswith("purges.csv:")
    assert "120 inH2O" in purge.reason


def test_pairs_are_those_of_the_samples_table_and_the_furthest_apart_come_first(report):
    lines = FileLines(report.review, 2000)
    pairs, total = pair_lines(report.review, lines, 10_000)
    assert 0 < len(pairs) <= total
    found = [float(one.rpd.removesuffix(" %").replace(",", "")) for one in pairs if one.rpd.endswith("%")]
    assert found == sorted(found, reverse=True)
    for one in pairs[:20]:
        numbers = [re.fullmatch(r"([0-9.,]+) (\S+)", text) for text in (one.first, one.second)]
        if all(numbers) and numbers[0][2] == numbers[1][2]:
            a, b = (float(number[1].replace(",", "")) for number in numbers)
            assert float(one.rpd.removesuffix(" %")) == pytest.approx(200 * abs(a - b) / (a + b), rel=2e-2)


def test_blanks_are_counted_from_the_files(report):
    lines = FileLines(report.review, 2000)
    blanks, total = blank_lines(report.review, lines, 10_000)
    assert total == len(blanks)
    of_samples = {row["sample_id"] for row in rows_of("samples.csv") if row["kind"].endswith("_blank")}
    assert {one.name for one in blanks if one.place.startswith("samples.csv")} == of_samples
    batches = {(r["batch_id"], r["kind"]) for r in rows_of("lab_qc.csv") if r["kind"].endswith("_blank")}
    assert len([one for one in blanks if one.place.startswith("lab_qc.csv")]) >= len({b for b in batches if b[0]})
    dirty = [one.found != "nothing found" for one in blanks]
    assert dirty == sorted(dirty, reverse=True)


def test_every_place_on_the_page_leads_to_its_line_as_the_file_has_it(report):
    text = page(report.review, report.tally, report.sentences).decode()
    anchors = set(re.findall(r'href="#(line-[^"]+)"', text))
    quoted = dict(re.findall(r'<div class="line" id="([^"]+)"><p><b>([^<]+)</b>', text))
    assert anchors
    assert anchors == set(quoted)
    purges = (SAMPLE / "purges.csv").read_text().splitlines()
    for anchor, place in quoted.items():
        if anchor.startswith("line-purges-"):
            key = purges[int(place.partition(":")[2]) - 1].split(",")[0]
            part = text[text.index(f'id="{anchor}"') :].partition("</div>")[0]
            assert f"<i>purge_id</i> {key}" in part
