"""Data-quality indicators by hand.

Codes are those of the project's list of published criteria. A01, A02: the RPD of a site's quality plan (docket 578658,
p. 149) and a printed pair of a laboratory's quality plan of 1996 (docket 578666, p. 98; it prints 2.0 %). A22:
completeness as 450679 p. 62 and 536997 p. 448 define it, on planned and on reported results. A08: 578666 p. 98.
The pooled formula is from memory and is checked here against the standard deviation of the statistics module.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from whole_data import SHIPPED, Cells, reviewed

from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Standing
from vaporqa.review import review_folder
from vaporqa.review.indicators import Indicators, indicators_of, pooled_rsd
from vaporqa.tables.project import Project

TCE, BENZENE = "79-01-6", "71-43-2"


def sample(name: str, **cells: str) -> Cells:
    return {"sample_id": name, "kind": "primary", "matrix": "soil_gas", **cells}


def result(sample_id: str, cas: str, value: str, **cells: str) -> Cells:
    return {"sample_id": sample_id, "cas": cas, "analyte": cas, "result": value, "unit": "ppbv",
            "reporting_limit": "1", **cells}  # fmt: skip


def found(
    rows: Mapping[str, Sequence[Cells]], settled: Mapping[int, tuple[Standing, str, str]] | None = None
) -> Indicators:
    made = indicators_of(reviewed(rows, settled))
    assert made is not None
    return made


def pair(first: str, second: str, cas: str = BENZENE) -> list[Cells]:
    return [result("A", cas, first), result("AD", cas, second)]


SAMPLES = [sample("A"), sample("AD", kind="field_duplicate", parent_sample_id="A")]


@pytest.mark.parametrize(("first", "second", "rpd"), [("12", "18", 40.0), ("24.5", "24", 2.0619)])  # A01, A02
def test_rpd_of_a_pair_and_its_relative_standard_deviation(first: str, second: str, rpd: float) -> None:
    made = found({"samples": SAMPLES, "results": pair(first, second)}).precision
    assert made.largest_rpd == made.median_rpd == pytest.approx(rpd, abs=0.00005)
    numbers = [float(first), float(second)]
    assert made.pooled_rsd == pytest.approx(100 * statistics.stdev(numbers) / statistics.mean(numbers))


def test_pairs_are_pooled_by_their_squares() -> None:
    rows = {"samples": SAMPLES, "results": [*pair("12", "18"), *pair("24.5", "24", TCE)]}
    made = found(rows)
    squares = [(100 * statistics.stdev(p) / statistics.mean(p)) ** 2 for p in ((12, 18), (24.5, 24))]
    assert made.precision.pooled_rsd == pytest.approx(math.sqrt(statistics.mean(squares)))
    assert made.precision.pooled_rsd == pytest.approx(20.0265, abs=0.0001)  # sqrt((40^2 + 2.0619^2) / 4)
    assert [one.largest_rpd for one in made.precision_by_analyte] == pytest.approx([40.0, 2.0619], abs=0.0001)
    assert math.isnan(pooled_rsd(np.empty(0)))


def test_a_pair_with_a_nondetect_or_a_rejected_member_has_no_rpd() -> None:
    rows = {"samples": SAMPLES, "results": [*pair("12", "ND"), *pair("ND", "ND", TCE), *pair("1", "3", "108-88-3")]}
    made = found(rows, {5: (Standing.REJECTED, "R", "")}).precision
    assert (made.pairs, made.both_detected, made.neither_detected, made.rejected) == (2, 0, 1, 1)
    assert math.isnan(made.pooled_rsd)


def test_members_in_two_units_are_brought_together() -> None:
    # A15: 2.0 ppbv of trichloroethene is 10.75 ug/m3 at 25 degC (TO-15A reference conditions).
    rows = [result("A", TCE, "2.0"), result("AD", TCE, "10.75", unit="ug/m3")]
    assert found({"samples": SAMPLES, "results": rows}).precision.largest_rpd < 0.1


def planned_two_hundred() -> dict[str, list[Cells]]:
    analytes, samples = [f"X{n}" for n in range(20)], [f"S{n}" for n in range(10)]
    rows = [result(one, cas, "5") for one in samples for cas in analytes]
    return {
        "samples": [*map(sample, samples), sample("W", kind="trip_blank"), sample("O", matrix="ambient_air")],
        "required_analytes": [{"cas": cas, "analyte": cas} for cas in analytes],
        "results": [*rows[:190], result("W", "X1", "5"), result("O", "X1", "5")],
    }


def test_a22_completeness_of_planned_and_of_reported() -> None:
    rejected = dict.fromkeys(range(8), (Standing.REJECTED, "R", ""))
    estimated = dict.fromkeys(range(20, 60), (Standing.ESTIMATED, "J", "unknown"))
    made = found(planned_two_hundred(), rejected | estimated).completeness
    assert (made.planned, made.reported, made.rejected) == (200, 190, 8)
    assert made.of_planned == pytest.approx(91.0)
    assert made.of_reported == pytest.approx(95.79, abs=0.005)


def test_unproven_is_not_valid_until_its_evidence_is_supplied() -> None:
    rows = dict.fromkeys(range(10), (Standing.UNPROVEN, "", ""))
    made = found(planned_two_hundred(), rows).completeness
    assert (made.of_planned, made.of_planned_at_best) == pytest.approx((90.0, 95.0))
    assert (made.of_reported, made.of_reported_at_best) == pytest.approx((100 * 180 / 190, 100.0))


def test_by_analyte_and_without_a_list_of_required_ones() -> None:
    rows = planned_two_hundred()
    made = found(rows, {0: (Standing.REJECTED, "R", "")})
    first = next(one for one in made.completeness_by_analyte if one.cas == "X0")
    assert (first.planned, first.planned_valid, first.reported) == (10, 9, 10)  # S9 has X0 to X9 alone
    del rows["required_analytes"]
    alone = found(rows).completeness
    assert alone.planned is None
    assert math.isnan(alone.of_planned)
    assert alone.of_reported == 100.0


def test_a_planned_value_with_two_results_counts_once_and_by_the_better() -> None:
    rows = {
        "samples": [sample("A")], "required_analytes": [{"cas": BENZENE, "analyte": "benzene"}],
        "results": [result("A", BENZENE, "5", method="TO-15"), result("A", BENZENE, "5", method="TO-17")],
    }  # fmt: skip
    made = found(rows, {0: (Standing.REJECTED, "R", "")}).completeness
    assert (made.planned, made.planned_valid, made.reported, made.valid) == (1, 1, 2, 1)


def test_samples_of_unknown_kind_are_left_out_and_counted() -> None:
    rows = {"samples": [sample("A"), sample("B", kind="")],
            "results": [result("A", BENZENE, "5"), result("B", BENZENE, "5")]}  # fmt: skip
    made = found(rows)
    assert (made.completeness.reported, made.samples_of_unknown_kind) == (1, 1)


def test_recoveries_of_control_samples_and_surrogates() -> None:
    control = {"kind": "control_sample", "analyte": "benzene", "cas": BENZENE, "unit": "ppbv", "batch_id": "V1"}
    rows = {
        "samples": [sample("A")],
        "results": [result("A", BENZENE, "5"), {"sample_id": "A", "kind": "surrogate", "analyte": "toluene-d8",
                                               "recovery": "91"}],
        "lab_qc": [{"qc_id": "1", "result": "24.5", "spiked": "25", **control},  # A08: 98.0 %
                   {"qc_id": "2", "recovery": "104", **control}, {"qc_id": "3", **control}],
    }  # fmt: skip
    surrogate, spiked = found(rows).accuracy
    assert (surrogate.what, surrogate.rows, surrogate.mean) == ("surrogate", 1, 91.0)
    assert math.isnan(surrogate.rsd)
    assert (spiked.rows, spiked.unread) == (3, 1)
    assert (spiked.mean, spiked.lowest, spiked.highest) == pytest.approx((101.0, 98.0, 104.0))
    assert spiked.rsd == pytest.approx(100 * statistics.stdev((98, 104)) / 101)


def test_share_of_nondetects_whose_limit_meets_the_level() -> None:
    limits = ("1", "2", "2.1")
    rows = {
        "samples": [sample(f"S{n}") for n in range(5)],
        "results": [*(result(f"S{n}", BENZENE, "ND", reporting_limit=one) for n, one in enumerate(limits)),
                    result("S3", BENZENE, "9"), result("S4", TCE, "ND")],
        "screening_levels": [{"cas": BENZENE, "analyte": "benzene", "level": "2", "unit": "ppbv"}],
    }  # fmt: skip
    made = found(rows)
    assert (made.sensitivity.nondetects, made.sensitivity.compared, made.sensitivity.met) == (4, 3, 2)
    assert made.sensitivity.no_level == 1
    assert made.sensitivity.share == pytest.approx(200 / 3)


def test_without_results_there_is_nothing_to_indicate() -> None:
    project = Project(time_zone="UTC")
    review = review_folder(project, tables_from_text({"samples": [sample("A")]}, project), SHIPPED)
    assert indicators_of(review) is None
