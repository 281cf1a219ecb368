"""Chains of results, against the list of faults that was planted in Cutbank Terminal and against its cells.

The expected links were written from ``sample_inputs/cutbank-terminal/README.md`` and the tables beside it.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import vaporqa
from vaporqa.outcomes import Effect, Outcome, Standing
from vaporqa.report.chain_lines import ChainLines, LinkLine
from vaporqa.review.chain import LINKS, Chain, Chains, link_of
from vaporqa.review.values import Review
from vaporqa.review.weighed import WeighedAgain
from vaporqa.rulebook import load_rulebook

HOME = Path(__file__).parents[2] / "sample_inputs"


class Folder:
    """A sample folder, checked once, with the chain of every result."""

    def __init__(self, name: str) -> None:
        self.checked = vaporqa.check(HOME / name)
        self.review = self.checked.review
        table = self.review.tables.tables["results"]
        self.rows = table.rows
        self._chains = Chains(self.review, range(table.rows))
        self._lines = ChainLines(self.review, self.checked.report.sentences)
        sample, analyte = table.text("sample_id"), table.text("analyte")
        assert sample is not None
        assert analyte is not None
        self.row_of = {(sample.at(row), analyte.at(row)): row for row in reversed(range(table.rows))}

    def chain(self, row: int) -> Chain:
        return self._chains.of_result(row)

    def links(self, sample: str, analyte: str) -> dict[str, LinkLine]:
        chain = self.chain(self.row_of[sample, analyte])
        return {link.name: link for link in self._lines.links(chain)}


@pytest.fixture(scope="module")
def cutbank() -> Folder:
    return Folder("cutbank-terminal")


@pytest.fixture(scope="module")
def larkspur() -> Folder:
    return Folder("larkspur-yard")


#: Number of the fault, sample, analyte, link, its effect on the result, key of a row behind it, words of a sentence.
BAD = [
    (18, "CT-A15", "Benzene", "tracer", "estimate", "TT-A15", "8 %"),
    (18, "CT-A15", "Oxygen", "tracer", "estimate", "TT-A15", "at most 5 %"),
    (19, "CT-A16", "Chloromethane", "tracer", "reject", "TT-A16", "27 %"),
    (21, "CT-A18", "Toluene", "tracer", "estimate", "TT-A18", "8 %"),
    (23, "CT-A19", "Benzene", "tracer", "unproven", "TT-A19", "8 %"),
    (24, "CT-A20", "Benzene", "tracer", "unproven", "TT-A20", "60 times"),  # 6.0 % over 0.10 %
    (25, "CT-A21", "Benzene", "tracer", "unproven", None, "CT-A21"),
    (29, "CT-A25", "Benzene", "tracer", "unproven", "TT-A25", ""),
    (15, "CT-A11", "Benzene", "tracer", "unproven", "TT-A11", "same key"),
    (32, "CT-A06", "Benzene", "purge", "estimate", "PU-A06", "at least 3"),
    (34, "CT-B01", "Benzene", "purge", "reject", "PU-B01", "at least 1"),
    (36, "CT-B02", "Benzene", "purge", "estimate", "PU-B02", "240 mL/min"),
    (37, "CT-B13", "Benzene", "purge", "estimate", "PU-B13", "260 mL/min"),
    (38, "CT-A02", "Benzene", "purge", "estimate", "PU-A02", "120 inH2O"),
    (40, "CT-B03", "Benzene", "purge", "estimate", "PU-B03", "17 min"),
    (42, "CT-B04", "Benzene", "purge", "unproven", None, "CT-B04"),
    (17, "CT-A14", "Benzene", "purge", "unproven", "PU-A14", "vacuum"),
    (44, "CT-A15", "Oxygen", "equipment", "estimate", "E-055", "L-A12"),
    (45, "CT-A28", "Trichloroethene", "equipment", "reject", None, "L-A24"),
    (45, "CT-A28", "Tetrachloroethene", "equipment", "estimate", None, "L-A24"),
    (46, "CT-B23", "Toluene", "equipment", "unproven", None, "time of day"),
    (48, "CT-A09", "Toluene", "equipment", "estimate", "E-042", "Toluene"),
    (51, "CT-B06", "Chloromethane", "holding", "estimate", "R-01809", "34 d"),
    (52, "CT-B07", "Chloromethane", "holding", "reject", "R-01859", "2.07 x"),  # 62 d of 30 d
    (55, "CT-B15", "Benzene", "holding", "estimate", "R-02239", "at most 6 h"),
    (59, "CT-B18", "Benzene", "holding", "unproven", "R-02304", "time of day"),
    (60, "CT-B20", "Benzene", "holding", "estimate", "R-02346", "27"),
    (65, "CT-B12", "Chloromethane", "receipt", "note", None, "60 %"),  # 18 d of 30 d
    (66, "CT-A05", "Trichloroethene", "duplicates", "estimate", "R-00281", "79"),
    (67, "CT-A12D", "Benzene", "duplicates", "unproven", None, "CT-A12D"),
    (71, "CT-A16", "Trichloroethene", "duplicates", "estimate", "LD-V3-79-01-6", "40"),
    (4, "CT-A07", "Benzene", "sampling", "unproven", "CT-A07", "soil vapour"),
    (7, "CT-A01", "Hexane", "reporting", "unproven", "R-00017", "ug/rn3"),
    (7, "CT-A01", "Hexane", "batch", "unproven", None, ""),
]  # fmt: skip


@pytest.mark.parametrize(("fault", "sample", "analyte", "link", "effect", "key", "words"), BAD)
def test_a_planted_fault_breaks_its_link(
    cutbank: Folder, fault: int, sample: str, analyte: str, link: str, effect: str, key: str | None, words: str
) -> None:
    found = cutbank.links(sample, analyte)[link]
    assert found.state in ("broken", "unproven")
    assert found.effect == effect
    if key is not None:
        assert key in [one for _, one, _ in found.rows]
    costly = [one for one in found.said if one.effect == effect]
    assert any(words in one.sentence for one in costly), [one.sentence for one in costly]
    assert all(one.outcome != "holds" and one.findings for one in costly)


#: Number of the fault that spares it, sample, analyte, link, words: these must hold, or touch others only.
SPARED = [
    (18, "CT-A15", "Helium", "tracer", "-"),  # the tracer's own row
    (20, "CT-A17", "Benzene", "tracer", "-"),
    (22, "CT-B05", "Chloromethane", "tracer", "-"),
    (44, "CT-A15", "Benzene", "equipment", "-"),  # a nondetect: nothing was brought along
    (48, "CT-A09", "Benzene", "equipment", "-"),  # the blank held toluene
    (48, "CT-A02", "Toluene", "equipment", "-"),  # before the last clean blank
    (55, "CT-B15", "Methane", "holding", "-"),  # methane had a day
    (66, "CT-A05", "Benzene", "duplicates", "-"),
]


@pytest.mark.parametrize(("fault", "sample", "analyte", "link", "effect"), SPARED)
def test_what_a_fault_spares_keeps_its_link(
    cutbank: Folder, fault: int, sample: str, analyte: str, link: str, effect: str
) -> None:
    assert cutbank.links(sample, analyte)[link].effect == effect


#: Rule to number and limit, worked out by hand from the cells of CT-A01 (tubing, forms and stamps of 28 October).
HELD = {
    "probe-depth": "6.71 ft (at least 5 ft)",  # top of the interval
    "above-water": "11 ft (over 0 ft)",  # 18.0 - 7.00
    "tip-opened": "3.5 in (",
    "stick-up-clearance": "6.5 in (between 6 in and 8 in)",
    "shut-in-vacuum": "115 inH2O (at least 100 inH2O)",
    "shut-in-hold": "2 min (at least 1 min)",
    "shut-in-decay": "0.2 inH2O (under 0.5 inH2O",  # 115.0 - 114.8, and the gauge of 0.2
    "shut-in-order": "2 min (at least 0 min)",  # 10:19 to 10:21
    "purge-flow": "140 mL/min (at most 200 mL/min)",
    "purge-vacuum": "10 inH2O (at most 100 inH2O)",
    "purge-arithmetic": "0 % (at most 20 %)",  # 420 mL and 140 mL/min for 3 min
    "purge-to-sample": "4 min (at most 10 min",  # 10:24 to 10:28
    "sampling-flow": "185 mL/min (at most 200 mL/min)",
    "sampling-vacuum": "38 inH2O (at most 100 inH2O)",
    "canister-end": "5.3 inHg (",
    "suction-present": "0.02 inH2O (at least -1 inH2O)",
    "custody-done": "2 (at least 1)",
    "holding-time": "5 d (at most 30 d)",  # 28 October to 2 November
}


@pytest.mark.parametrize("rule", HELD)
def test_what_holds_says_its_number_and_its_limit(cutbank: Folder, rule: str) -> None:
    links = cutbank.links("CT-A01", "Benzene")
    (line,) = [one for link in links.values() for one in link.said if one.rule == rule]
    assert line.outcome == "holds"
    assert HELD[rule] in line.sentence
    assert line.measured
    assert line.limit


@pytest.mark.parametrize(("sample", "number"), [("CT-A17", "1.5 %"), ("CT-B05", "5 %")])
def test_the_laboratory_s_tracer_outranks_the_meter_in_what_holds(cutbank: Folder, sample: str, number: str) -> None:
    said = cutbank.links(sample, "Chloromethane")["tracer"].said
    (line,) = [one for one in said if one.rule == "leak-tracer-recovery"]
    assert line.outcome == "holds"
    assert f"in order, {number} (at most 5 %" in line.sentence


def test_a_link_without_rows_says_so(cutbank: Folder) -> None:
    tracer = cutbank.links("CT-A21", "Benzene")["tracer"]
    assert tracer.rows == ()
    assert tracer.nothing == "no tracer test belongs to this sample"
    purge = cutbank.links("CT-B04", "Benzene")["purge"]
    assert purge.nothing == "no purge belongs to this sample"


def test_links_name_the_rows_that_the_result_hangs_on(cutbank: Folder) -> None:
    links = cutbank.links("CT-A16", "Chloromethane")
    assert links["location"].rows == (("locations", "L-A16", "locations.csv:17"),)
    assert links["installation"].rows == (("probes", "P-A16", "probes.csv:17"),)
    assert ("tracer_tests", "TT-A16", "tracer_tests.csv:17") in links["tracer"].rows
    # TA-2 was used there on 30 October, cleaned on the 29th after L-A13; blanks on the 29th and the 31st.
    assert [key for _, key, _ in links["equipment"].rows] == ["E-057", "E-052", "E-042", "E-095"]
    assert "MB-V3-74-87-3" in [key for _, key, _ in links["batch"].rows]
    assert [name for name, _, _ in links["custody"].rows] == ["custody", "custody"]


def test_chains_have_the_links_of_the_trade_in_its_order(cutbank: Folder) -> None:
    assert [link.kind.title for link in cutbank.chain(0).links] == [
        "Location", "Installation", "Equipment and cleaning", "Shut-in test", "Leak tracer", "Purge", "Sampling",
        "Field meters", "Custody", "Receipt", "Holding time", "Batch control", "Duplicates", "Reported result",
    ]  # fmt: skip


_EFFECTS = {
    Standing.USABLE: (Effect.NONE, Effect.NOTE), Standing.ESTIMATED: (Effect.ESTIMATE,),
    Standing.UNPROVEN: (Effect.UNPROVEN,), Standing.REJECTED: (Effect.REJECT,),
}  # fmt: skip


@pytest.mark.parametrize("name", ["cutbank", "larkspur"])
def test_every_result_has_a_chain_whose_gravest_link_is_its_standing(name: str, request: pytest.FixtureRequest) -> None:
    folder: Folder = request.getfixturevalue(name)
    review = folder.review
    assert review.final is not None
    lists = folder.checked.report.sentences.lists("results")
    for row in range(folder.rows):
        chain = folder.chain(row)
        if review.final.counts_for[row] < 0 and review.tables.tables["results"].copy_of[row] < 0:
            standing = Standing(int(review.settled["results"].standing[row]))
            assert chain.effect in _EFFECTS[standing], row
        named = {int(review.findings.rule[one]) for one in lists.sets[int(lists.of_row[row])]}
        spoken = {
            one.rule for link in chain.links for one in link.said if one.counts and one.outcome is not Outcome.HOLDS
        }
        assert named <= spoken, row
        for link in chain.links:
            if link.effect > Effect.NOTE:
                assert link.state in ("broken", "unproven"), row


def test_letters_are_those_of_the_settlement(cutbank: Folder) -> None:
    oxygen = cutbank.chain(cutbank.row_of["CT-A15", "Oxygen"])
    rules = cutbank.review.rules
    given = {rules[int(cutbank.review.findings.rule[one.finding])].id: one.counts.word
             for one in oxygen.given if one.counts and one.effect > Effect.NOTE}  # fmt: skip
    # Outside air raises oxygen where it dilutes the rest; the uncleaned tip raises it as well.
    assert given == {"leak-tracer-recovery": "J+", "clean-between-locations": "J+"}


def test_nothing_is_said_of_a_second_weighing_that_ends_otherwise(cutbank: Folder) -> None:
    review = cutbank.review
    number, (index, one) = next(
        (number, pair) for number, pair in enumerate(review.judged) if review.rules[pair[0]].id == "purge-volumes"
    )
    broken = int(np.flatnonzero(one.state == Outcome.BROKEN)[0])
    state = one.state.copy()
    state[broken] = Outcome.HOLDS
    judged = list(review.judged)
    judged[number] = (index, replace(one, state=state))
    altered: Review = replace(review, judged=tuple(judged))
    assert WeighedAgain(altered).holding(number, broken) == ()
    held = int(np.flatnonzero(one.state == Outcome.HOLDS)[0])
    assert WeighedAgain(altered).holding(number, held)


def test_numbers_of_large_tables_are_left_to_the_trace(cutbank: Folder) -> None:
    review = cutbank.review
    number, one = next(
        (number, pair[1]) for number, pair in enumerate(review.judged) if review.rules[pair[0]].id == "purge-volumes"
    )
    held = int(np.flatnonzero(one.state == Outcome.HOLDS)[0])
    rows = review.tables.tables["purges"].rows
    assert WeighedAgain(review, most_rows=rows).holding(number, held)
    assert WeighedAgain(review, most_rows=rows - 1).holding(number, held) == ()


def test_every_topic_and_named_rule_has_its_link() -> None:
    book = load_rulebook()
    topics = {topic for kind in LINKS for topic in kind.topics}
    assert set(book.topics) - {"cautions"} <= topics
    ids = {rule.id for rule in book.rules}
    assert {rule for kind in LINKS for rule in kind.rules} <= ids
    assert link_of(book.rule("known-word"), "custody") == "custody"
    assert link_of(book.rule("canister-held"), "samples") == "receipt"
    assert link_of(book.rule("purge-done"), "samples") == "purge"


PROJECT = """\
project: Calibration Yard
purpose: property transaction
time_zone: America/Boise
lab_time_zone: America/Chicago
stage: 2B
"""
TABLES = {
    "samples": "sample_id,kind,matrix,container,ended_at\nS1,primary,soil_gas,canister,2025-05-06 10:00\n",
    "results": "result_id,sample_id,laboratory,batch_id,calibration_id,tune_id,cas,analyte,result,unit,reporting_limit,"
    "analyzed_at,method\nR1,S1,Laboratory A,B1,C1,T1,71-43-2,Benzene,12,ug/m3,1,2025-05-08 10:00,TO-15\n",
    "lab_qc": "qc_id,laboratory,calibration_id,kind,cas,analyte,rsd,difference,passed,analyzed_at\n"
    "T1,Laboratory A,,tune,,,,,yes,2025-05-08 04:00\n"
    "IC1,Laboratory A,C1,initial_calibration,71-43-2,Benzene,12,,yes,2025-05-01 04:00\n"
    "CC1,Laboratory A,C1,calibration_check,71-43-2,Benzene,,-11,yes,2025-05-08 05:00\n"
    "CC2,Laboratory A,C1,calibration_check,71-43-2,Benzene,,45,no,2025-05-08 15:00\n"
    "CC3,Laboratory A,C2,calibration_check,71-43-2,Benzene,,45,no,2025-05-08 05:00\n",
}


def test_calibration_and_tune_stand_behind_a_result_and_a_later_check_does_not_touch_it(tmp_path: Path) -> None:
    (tmp_path / "project.yaml").write_text(PROJECT, encoding="utf-8")
    for name, text in TABLES.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    (row,) = vaporqa.check(tmp_path).trace("results", "R1").rows
    batch = {link.name: link for link in row.links}["batch"]
    # CC3 belongs to another calibration.
    assert [key for _, key, _ in batch.rows] == ["IC1", "CC1", "CC2", "T1"]
    said = {(one.rule, one.key): one for one in batch.said}
    assert "in order, 12 % (" in said["initial-calibration", "IC1"].sentence
    assert "in order, -11 % (" in said["calibration-check", "CC1"].sentence
    assert "in order, 6 h (at most 12 h)" in said["tune-clock", "R1"].sentence
    late = said["calibration-check", "CC2"]  # 45 % off, five hours after the result
    assert (late.outcome, late.counts, late.effect) == ("broken", False, "-")


def test_a_topic_left_out_is_not_reviewed(tmp_path: Path) -> None:
    left_out = PROJECT + "leave_out: {purge: no purge forms were kept}\n"
    (tmp_path / "project.yaml").write_text(left_out, encoding="utf-8")
    for name, text in TABLES.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    (row,) = vaporqa.check(tmp_path).trace("results", "R1").rows
    purge = {link.name: link for link in row.links}["purge"]
    assert (purge.state, purge.said, purge.left_out) == ("not reviewed", (), ("purge",))
