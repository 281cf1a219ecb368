"""The folded chains of the page: which are shown, what they say, and how many."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

import vaporqa
from vaporqa.report.chains_on_page import chain_parts
from vaporqa.report.page import SIZE_LIMIT, Room, page

CUTBANK = Path(__file__).parents[2] / "sample_inputs" / "cutbank-terminal"


@pytest.fixture(scope="module")
def checked() -> vaporqa.Checked:
    return vaporqa.check(CUTBANK)


def test_the_gravest_come_first_and_no_more_than_there_is_room_for(checked: vaporqa.Checked) -> None:
    found = chain_parts(checked.review, checked.report.sentences, 25)
    assert len(found.parts) == 25
    assert {one.standing for one in found.parts} == {"rejected"}
    everything = chain_parts(checked.review, checked.report.sentences, 10_000)
    assert len(everything.parts) == everything.total
    order = ("rejected", "unproven", "estimated")
    assert [one.standing for one in everything.parts] == sorted(
        (one.standing for one in everything.parts), key=order.index
    )


def test_every_flagged_result_in_use_stands_behind_one_of_them(checked: vaporqa.Checked) -> None:
    review = checked.review
    results = review.evidence.results
    assert results is not None
    found = chain_parts(review, checked.report.sentences, 10_000)
    flagged = (review.settled["results"].standing > 0) & results.target & (review.evidence.in_use != 0)
    assert found.results == int(np.count_nonzero(flagged))
    named = 0
    for one in found.parts:
        more = re.search(r" and ([0-9,]+) more$", one.others)
        # Names of analytes hold commas (1,3-Butadiene), but never a comma and a blank.
        listed = one.others[: more.start()] if more else one.others
        named += 1 + (len(listed.split(", ")) if listed else 0) + (int(more[1].replace(",", "")) if more else 0)
    assert named == found.results


def test_a_chain_says_where_it_breaks_and_what_holds(checked: vaporqa.Checked) -> None:
    first = chain_parts(checked.review, checked.report.sentences, 1).parts[0]
    assert (first.standing, first.qualifier) == ("rejected", "R")
    assert first.name.endswith(" in CT-A16")  # fault 19: the first rejected row of the file
    assert first.breaks == "Leak tracer"
    links = {title: (state, text) for _, title, state, text in first.links}
    assert len(links) == 14
    assert links["Leak tracer"][0] == "broken (reject)"
    assert "TT-A16 tracer_tests.csv:17" in links["Leak tracer"][1]
    assert links["Purge"][0] == "holds"
    assert "purge-flow 165 mL/min (at most 200 mL/min)" in links["Purge"][1]
    assert links["Duplicates"][1].startswith("no duplicate belongs to this result")


def test_the_page_has_them_folded_and_keeps_its_size(checked: vaporqa.Checked) -> None:
    html = page(checked.review, checked.report.tally, checked.report.sentences)
    text = html.decode().partition('<section id="chains">')[2].partition("</section>")[0]
    assert text.count("<details") == Room().chains
    assert text.count("<summary") == Room().chains
    assert "<details open" not in text
    assert len(html) < SIZE_LIMIT


def test_less_room_means_fewer_chains() -> None:
    assert Room().less().chains == Room().chains // 2


def test_a_folder_without_flagged_results_has_none(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text("project: Empty Yard\ntime_zone: America/Boise\n", encoding="utf-8")
    (tmp_path / "locations.csv").write_text("location_id\nL1\n", encoding="utf-8")
    checked = vaporqa.check(tmp_path)
    assert chain_parts(checked.review, checked.report.sentences, 10).parts == ()
    html = page(checked.review, checked.report.tally, checked.report.sentences).decode()
    assert 'id="chains"' not in html
