"""The plan of a campaign half done, against what was worked out by hand in `tansy_hollow.py`."""

from __future__ import annotations

import csv
import io
import math
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
import tansy_hollow as hand
from make import SAMPLE_INPUTS

import vaporqa
from vaporqa.library import Planned
from vaporqa.planning import Item
from vaporqa.report.plan_wording import PlanWords

HOME = SAMPLE_INPUTS / "tansy-hollow"
ORDERED = ("stop", "clean_before")


@pytest.fixture(scope="module")
def planned() -> Planned:
    return vaporqa.plan(HOME, day=hand.DAY, stroke=hand.STROKE)


def bases(item: Item) -> str:
    return ", ".join(f"{one.rule}.{one.limit.name}" for one in item.basis)


def fits(item: Item, due: hand.Due, words: PlanWords) -> bool:
    """The same limits, the same gap, and the number to the figures that the hand wrote."""
    unit = item.unit if due.unit or not due.value else due.unit
    if (bases(item), item.missing, item.against, unit) != (due.limits, due.missing, due.against, due.unit):
        return False
    if due.missing:
        return True
    if item.when is not None:
        return words.iso(item.when).startswith(due.value)
    try:
        number = float(due.value)
    except ValueError:
        return item.word == due.value
    # Half of the last figure written, and as much again for the figures that it was worked out from.
    places = len(due.value.partition(".")[2])
    return math.isclose(item.value, number, rel_tol=2e-4, abs_tol=1.01 * 10.0**-places if places else 0.5)


def test_the_files_are_those_of_the_generator() -> None:
    assert {path.name: path.read_bytes() for path in HOME.iterdir()} == hand.build().files()


def test_every_number_is_the_one_worked_out_by_hand(planned: Planned) -> None:
    words, wrong = PlanWords(planned.plan), []
    items = [item for item in planned.plan.items if item.name not in ORDERED]
    left = list(items)
    for due in hand.EXPECTED:
        same = [one for one in left if (one.probe, one.name, one.of) == (due.probe, due.item, due.of)]
        found = next((one for one in same if fits(one, due, words)), None)
        if found is None:
            said = [(words.text(one), one.value, one.missing, bases(one), one.against) for one in same]
            wrong.append(f"{due.probe} {due.item} {due.of}: must be {due}, is {said}")
        else:
            left.remove(found)
    wrong += [f"{one.probe} {one.name} {one.of}: {words.text(one)} [{bases(one)}] is not in the list" for one in left]
    assert not wrong, "\n".join(wrong)


def test_stops_from_clean_to_dirty_and_what_is_cleaned_before_each(planned: Planned) -> None:
    steps = planned.plan.steps
    found = [(one.probe, one.highest, dict(one.clean), dict(one.unsure)) for one in steps]
    wanted = [(probe, float(top) if top else math.nan, clean, {}) for probe, top, clean in hand.ORDER]
    assert repr(found) == repr(wanted)
    assert planned.plan.ordered_by == "some earlier results"
    assert planned.plan.against_times == hand.AGAINST_TIMES


def test_probes_without_clearance_are_named_at_the_top(planned: Planned) -> None:
    lines = planned.text().splitlines()
    top = lines[: next(number for number, line in enumerate(lines) if line.startswith("Order of the stops"))]
    named = {state.probe for state in planned.plan.probes if any(f"✕ {state.probe}:" in line for line in top)}
    assert named == {*hand.WITHOUT_CLEARANCE, *hand.CLEARED_LATE}
    page = planned.page().decode()
    assert page.index("TH-05: no clearance of buried services is recorded; do not drive it") < page.index("Order of")


def test_every_line_of_the_table_names_a_rule_or_says_what_it_is_made_of(planned: Planned) -> None:
    rows = list(csv.DictReader(io.StringIO(planned.csv().decode())))
    bare = Counter(row["item"] for row in rows if not row["rule"])
    # Parts of a dead volume, the plain expectation of a gauge and the record of a clearance stand under no limit.
    assert set(bare) <= {
        "tubing_part", "tip_part", "void_part", "pack_part", "seal_part", "train_part", "bulb_part", "dead_volume",
        "vacuum_expected", "services_cleared",
    }  # fmt: skip
    assert all(row["value"] or row["missing"] for row in rows)
    assert all(row["backing"] and row["source"] for row in rows if row["rule"])


def test_the_folder_is_reviewed_too(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "vaporqa", "check", str(HOME), "--out", str(tmp_path / "run")]
    run = subprocess.run([*command, "--fail-on", "never"], capture_output=True, text=True, check=False, timeout=300)
    assert run.returncode == 0, run.stderr
