"""Share of the holding time that was used, by container and limit."""

from __future__ import annotations

import numpy as np

from vaporqa.criteria import Limit, Rule
from vaporqa.evidence.judged import Weighed
from vaporqa.outcomes import Outcome
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import picture
from vaporqa.report.figures.marks import WORDS, Mark
from vaporqa.report.figures.picture import LISTED, MARKS, Picture, legend, plotted
from vaporqa.report.figures.rows import Dot, Row, chart
from vaporqa.report.figures.scales import straight
from vaporqa.report.figures.verdicts import rules_by, verdict, weighed_of
from vaporqa.report.wording import figure, visible, with_unit
from vaporqa.review.values import Review

_TITLE = "Holding time used, by container"
_ROWS = 24


def holding_time(review: Review) -> Picture | None:
    """Draw the used share of each sample's holding times; None where no time is known."""
    rules = [index for index in rules_by(review, check="elapsed") if weighed_of(review, index) is not None]
    if not rules:
        return None
    rule, weighed = review.rules[rules[0]], weighed_of(review, rules[0])
    assert weighed is not None
    found = verdict(review, [rules[0], *(review.rules.index(one) for one in _built_on(review, rule))], rule.row)
    results = review.evidence.results
    if found is None or results is None or not len(weighed.row):
        return None
    concerned = weighed.outcome != Outcome.NOT_CONCERNED
    use = np.flatnonzero(concerned & (weighed.limit >= 0) & np.isfinite(weighed.value))
    if not len(use):
        return None
    groups = _groups(review, rule, weighed, use, found.mark)
    shown = groups[:_ROWS]
    room = max(1, MARKS // len(shown))
    limits = [(100.0, "the holding time"), *_multiples(review, rule)]
    most = max(share for group in shown for share, _, _, _ in group[2])
    wanted = 1.06 * max(most, 100.0)
    scale = straight(0.0, wanted if wanted <= 320 else 320.0, 12.0, 462.0)
    kept = [one for one in limits if one[0] <= scale.high]
    rows = []
    for container, limit, members in shown:
        dots = tuple(Dot(share, Mark(kind)) for share, kind, _, _ in members[:room])
        shares = [share for share, _, _, _ in members]
        said = f"{counted(len(members), 'mark')}, up to {figure(max(shares))} %"
        rows.append(Row(f"{container}: {_written(limit)}", dots, said, span=(min(shares), max(shares))))
    parts, height = chart(rows, kept, scale, "% of the holding time", above=True)
    leaves_out = []
    undrawn = sum(max(len(members) - room, 0) for _, _, members in shown)
    if undrawn:
        leaves_out.append(f"{counted(undrawn, 'milder mark')} not drawn singly; the grey bars span all of them.")
    if len(groups) > len(shown):
        leaves_out.append(f"{counted(len(groups) - len(shown), 'milder group')} not drawn.")
    lacking = int(concerned.sum()) - len(use)
    if lacking:
        leaves_out.append(f"{counted(lacking, 'result')} not drawn: a time, the container or the matrix is not known.")
    leaves_out.append("Where only dates are known, the longest time that they allow is drawn (the shortest where even "
                      "that is too long).")  # fmt: skip
    listed = sorted(
        ((container, limit, *member) for container, limit, members in groups for member in members),
        key=lambda one: (-one[3], -one[2], one[0], one[4]),
    )
    marks = [Mark(kind) for _, _, members in shown for _, kind, _, _ in members[:room]]
    return Picture(
        "picture-holding", _TITLE,
        picture(
            "picture-holding", _TITLE,
            f"{len(shown)} groups of samples by container and holding time, with a mark for the share that each used.",
            height, parts,
        ),
        (
            ("The time from the start of the clock to analysis (or preservation) as a share of the holding time that "
            "applies; one mark for each sample, holding time and share."),
            f"In all {counted(len(listed), 'mark')} of {counted(len(use), 'result')}.",
        ),
        tuple(leaves_out),
        legend(marks, heads=most > scale.high),
        plotted(
            ("Sample", "Container", "Holding time", "Used", "Results", "Made of it"),
            [
                (name, container, _written(limit), with_unit(figure(share), "%"), f"{number:,}", WORDS[Mark(kind)])
                for container, limit, share, kind, name, number in listed[:LISTED]
            ],
            len(listed), "flags/results.csv",
        ),
    )  # fmt: skip


_Member = tuple[float, int, str, int]


def _groups(
    review: Review, rule: Rule, weighed: Weighed, use: np.ndarray[tuple[int], np.dtype[np.int64]],
    mark_of: np.ndarray[tuple[int], np.dtype[np.int64]],
) -> list[tuple[str, Limit, list[_Member]]]:  # fmt: skip
    """Containers and limits with their distinct (share, mark, sample, results), the gravest first."""
    evidence = review.evidence
    results = evidence.results
    assert results is not None
    allowed = np.array([100.0 / limit.value for limit in rule.limits])
    row, limit = weighed.row[use], weighed.limit[use]
    share = weighed.value[use] * allowed[limit]
    # Rounded to a millionth of a per cent: the same times are one mark.
    keys = np.stack([results.sample[row], limit, mark_of[row], np.round(share * 1e6).astype(np.int64)])
    # Results of one sample mostly stand one after the other and share their times: whole runs at once.
    starts = np.flatnonzero(np.concatenate([[True], (keys[:, 1:] != keys[:, :-1]).any(axis=0)]))
    runs = np.diff(np.append(starts, keys.shape[1]))
    distinct, first, where = np.unique(keys[:, starts], axis=1, return_index=True, return_inverse=True)
    count = np.bincount(where.reshape(-1), weights=runs).astype(np.int64)
    first = starts[first]
    names, kinds = (*evidence.sample_ids.names, "no sample"), [*evidence.samples.container.tolist(), ""]
    out: dict[tuple[str, int], list[_Member]] = {}
    for at in range(distinct.shape[1]):
        sample, of_limit, kind = (int(one) for one in distinct[:3, at])
        member = (float(share[first[at]]), kind, visible(str(names[sample]), 60), int(count[at]))
        out.setdefault((str(kinds[sample]).replace("_", " "), of_limit), []).append(member)
    groups = [
        (container, rule.limits[number], sorted(members, key=lambda one: (-one[1], -one[0], one[2])))
        for (container, number), members in out.items()
    ]
    return sorted(groups, key=lambda one: (-max(m[1] for m in one[2]), -max(m[0] for m in one[2]), one[0], one[1].name))


def _multiples(review: Review, rule: Rule) -> list[tuple[float, str]]:
    """Limits of rules that count in multiples of the holding time, by the same clock."""
    return [
        (100.0 * one.limits[0].value, f"{one.limits[0].written} the holding time") for one in _built_on(review, rule)
    ]


def _built_on(review: Review, rule: Rule) -> list[Rule]:
    return [
        one
        for one in review.rules
        if one.check == "elapsed" and one.options.get("of") == rule.id and "span" not in one.options and one.limits
    ]


def _written(limit: Limit) -> str:
    return f"{figure(limit.number)} {limit.unit}" + (f" ({limit.name.replace('_', ' ')})" if "_" in limit.name else "")
