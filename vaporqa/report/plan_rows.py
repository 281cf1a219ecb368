"""plan.csv: one line a probe and item, with the rule, limit and source of every number."""

from __future__ import annotations

import csv
import io

from vaporqa.planning import Item, Plan
from vaporqa.report.plan_wording import PlanWords, missing_text
from vaporqa.report.wording import defused, plain_number

COLUMNS = (
    "probe", "item", "of", "value", "unit", "against", "rule", "limit", "source", "backing", "profile", "missing",
    "note",
)  # fmt: skip


def plan_csv(plan: Plan) -> bytes:
    """Return the plan as comma-separated UTF-8; several limits behind one number are joined by `; `.

    Numbers are unrounded and times have their offset; `against` is `yes` where what is recorded goes against the limit.
    """
    words = PlanWords(plan)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for item in plan.items:
        cells = (
            item.probe, item.name, item.of, _value(item, words), item.unit, "yes" if item.against else "",
            "; ".join(basis.rule for basis in item.basis),
            "; ".join(f"{basis.limit.name} {basis.limit.written}" for basis in item.basis),
            "; ".join(dict.fromkeys(str(basis.limit.source) for basis in item.basis)),
            "; ".join(basis.limit.backing.value for basis in item.basis),
            "; ".join(basis.limit.profile for basis in item.basis),
            missing_text(item) if item.missing else "", "; ".join(part for part in (item.about, item.note) if part),
        )  # fmt: skip
        writer.writerow([defused(cell) for cell in cells])
    return out.getvalue().encode("utf-8", "backslashreplace")


def _value(item: Item, words: PlanWords) -> str:
    if item.missing:
        return ""
    if item.when is not None:
        return words.iso(item.when)
    return item.word if item.word and item.value != item.value else plain_number(item.value)
