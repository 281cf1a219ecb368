"""Rain before sampling, and the air that a canister let in."""

from __future__ import annotations

import numpy as np
import pytest

from vaporqa.checks import CHECKS
from vaporqa.checks.canister_held import air_let_in
from vaporqa.evidence import Evidence
from vaporqa.intake import tables_from_text
from vaporqa.outcomes import Outcome
from vaporqa.rulebook import load_rulebook
from vaporqa.tables.project import Project

RULEBOOK = load_rulebook()


def judge(rule_id: str, project: Project, **tables: list[dict[str, str]]):
    rule = RULEBOOK.rule(rule_id)
    (one,) = CHECKS[rule.check].run(rule, Evidence(tables_from_text(tables, project), project, RULEBOOK))
    limit = rule.limits[one.limit[0]].name if len(one.limit) and one.limit[0] >= 0 else ""
    return Outcome(int(one.state[0])), limit, one


def test_share_of_outside_air():
    """A canister at 100 of which 98 came from the field, two allowed: nothing; at 93: five of a hundred."""
    share = air_let_in(np.array([2.0, 7.0, 1.0, -5.0, np.nan]), np.array([100.0, 100.0, 100.0, 100.0, 100.0]), 2.0)
    assert share[:4].tolist() == pytest.approx([0.0, 0.05, 0.0, 0.0])
    assert np.isnan(share[4])
    assert air_let_in(np.array([3.0]), np.array([0.0]), 2.0).tolist() == [0.0]


#: At sea level, by hand: ((P receipt - P end) - 2) / P receipt; end 7 and receipt 3.5 inHg make 1.5 / 26.421 = 5.7 %.
@pytest.mark.parametrize(
    ("end", "receipt", "outcome", "limit"),
    [
        (5, 5, Outcome.HOLDS, ""), (5, 3, Outcome.HOLDS, ""), (7, 3.5, Outcome.BROKEN, "leak"),
        (7, 3.8, Outcome.HOLDS, ""),  # 1.2 / 26.121 = 4.6 %
        (9, 0, Outcome.BROKEN, "gross_leak"),  # 7 / 29.921 = 23.4 %
        (7, 0, Outcome.BROKEN, "leak"),  # 5 / 29.921 = 16.7 %
        (5, 7.5, Outcome.BROKEN, "gauges"),
    ],
)  # fmt: skip
def test_canisters_at_sea_level(end, receipt, outcome, limit):
    row = {"sample_id": "A", "kind": "primary", "matrix": "soil_gas", "container": "canister",
           "vacuum_end": f"{end} inHg", "vacuum_receipt": f"{receipt} inHg"}  # fmt: skip
    project = Project(time_zone="UTC", altitude_m=0.0, lab_altitude_m=0.0)
    assert judge("canister-held", project, samples=[row])[:2] == (outcome, limit)


def rained(start: str, *rows: tuple[str, str, str], matrix: str = "soil_gas"):
    weather = [{"at": at, "rain": f"{rain} in", "rain_period": f"{hours} h"} for at, rain, hours in rows]
    sample = {"sample_id": "A", "kind": "primary", "matrix": matrix, "started_at": start}
    return judge("rain-wait", Project(time_zone="America/Denver"), samples=[sample], weather=weather)


DRY = ("2025-05-20T00:00", "0", "480")


def test_the_wait_is_elapsed_time():
    """The clocks of Denver went back on 2 November 2025: from the 1st, 12:00 to the 3rd, 12:00 are 49 hours."""
    dry = ("2025-11-01T11:00", "0", "240")
    rows = (dry, ("2025-11-01T12:00", "0.6", "1"), ("2025-11-06T00:00", "0", "110"))
    assert rained("2025-11-03T11:00", *rows)[0] is Outcome.HOLDS
    assert rained("2025-11-03T10:59", *rows)[0] is Outcome.BROKEN


def test_a_date_is_judged_at_both_of_its_ends():
    storm = (DRY, ("2025-05-20T01:00", "0.6", "1"), ("2025-05-30T00:00", "0", "239"))
    assert rained("2025-05-21", *storm)[0] is Outcome.BROKEN  # 23 to 47 hours
    assert rained("2025-05-23", *storm)[0] is Outcome.HOLDS  # 71 hours and more
    outcome, _, one = rained("2025-05-22", *storm)  # 47 to 71 hours
    assert outcome is Outcome.UNPROVEN
    assert one.wants[one.want[0]].phrase == "the time of day of sampling"


def test_a_daily_row_ends_with_its_day():
    daily = [(f"2025-05-{day}", "0.7" if day == 20 else "0", "24") for day in range(15, 26)]
    assert rained("2025-05-23T00:00", *daily)[0] is Outcome.HOLDS
    assert rained("2025-05-22T23:00", *daily)[0] is Outcome.BROKEN


def test_under_a_slab_rain_does_not_matter():
    assert rained("2025-05-20T02:00", DRY, ("2025-05-20T01:00", "0.6", "1"), matrix="subslab_gas")[0] is (
        Outcome.NOT_CONCERNED
    )
