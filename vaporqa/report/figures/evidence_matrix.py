"""Samples by topics of rules: the gravest thing that any rule of the topic made of each sample."""

from __future__ import annotations

import numpy as np

from vaporqa.evidence import Evidence
from vaporqa.outcomes import Effect, Letter, Outcome
from vaporqa.report.digest import counted
from vaporqa.report.figures.drawing import cut, line, measured, picture, words
from vaporqa.report.figures.marks import WORDS, Mark, mark, marks_of
from vaporqa.report.figures.picture import LISTED, Picture, legend, plotted
from vaporqa.report.wording import visible
from vaporqa.review.values import Review
from vaporqa.tables.values import Bool, Int16, Int64

_TITLE = "Evidence by sample and topic"
_ROWS, _STEP, _LEFT, _RIGHT = 40, 17.0, 132.0, 470.0
_CAUTIONS = "cautions"
_MEANINGS = {
    Mark.HOLDS: "full disc: judged, and every rule of the topic holds",
    Mark.NOTE: "open diamond: noted only",
    Mark.ESTIMATE: "half disc: something makes it an estimate",
    Mark.UNPROVEN: "ring with a question mark: something is not proven",
    Mark.REJECT: "cross: something is rejected",
}


def evidence_matrix(review: Review) -> Picture | None:
    """Draw the gravest outcome by sample and topic; None where no sample was judged."""
    evidence = review.evidence
    topics = list(dict.fromkeys(rule.topic for rule in review.rules if rule.topic != _CAUTIONS))
    rows = np.flatnonzero(evidence.samples.row != -1)
    if not len(rows) or not topics:
        return None
    effects = _effects(review, topics)
    names = evidence.sample_ids.names
    worst = effects.max(axis=1, initial=0)
    heavy = (effects == worst[:, None]).sum(axis=1)
    order = sorted(rows.tolist(), key=lambda i: (-int(worst[i]), -int(heavy[i]), str(names[i])))
    held = _held(review, topics, np.array(order[: max(_ROWS, 60)], np.int64))
    state = np.where(effects > 0, Outcome.BROKEN, np.where(held, Outcome.HOLDS, Outcome.NOT_CONCERNED))
    kinds = marks_of(state.astype(np.uint8), effects.astype(np.uint8))
    there = np.flatnonzero((state[order] != Outcome.NOT_CONCERNED).any(axis=0)).tolist()
    if not there:
        return None
    shown = order[:_ROWS]
    titles = [_title(review, topics[at]) for at in there]
    top = max(measured(title) for title in titles) * 0.94 + 22
    step = min((_RIGHT - _LEFT) / len(there), 34.0)
    bottom = top + _STEP * len(shown)
    parts = []
    for column, title in enumerate(titles):
        x = _LEFT + step * (column + 0.5)
        parts.append(line(x, top - 6, x, bottom, "l-grid"))
        parts.append(words(x + 4, top - 12, title, turn=-78))
    for index, sample in enumerate(shown):
        y = top + _STEP * index + 8
        parts.append(line(_LEFT, y, _LEFT + step * len(there), y, "l-grid"))
        parts.append(words(_LEFT - 6, y + 4.5, cut(str(names[sample]), _LEFT - 10), anchor="end"))
    parts += [
        mark(Mark(int(kinds[sample, at])), _LEFT + step * (column + 0.5), top + _STEP * index + 8)
        for index, sample in enumerate(shown) for column, at in enumerate(there)
        if state[sample, at] != Outcome.NOT_CONCERNED
    ]  # fmt: skip
    leaves_out = []
    if len(order) > len(shown):
        leaves_out.append(f"{counted(len(order) - len(shown), 'milder sample')} not drawn.")
    strange = int((evidence.samples.row == -1).sum())
    if strange:
        leaves_out.append(f"{counted(strange, 'sample')} named elsewhere but not in the samples table not drawn.")
    leaves_out.append(
        "An empty field means that no rule of the topic concerned the sample, or that rules only looked at rows which "
        "name no sample. Cautions touch no result and are left out."
    )
    return Picture(
        "picture-matrix", _TITLE,
        picture(
            "picture-matrix", _TITLE,
            f"{len(shown)} samples as rows and {len(there)} topics as columns with the gravest outcome of each.",
            bottom + 6, parts, max(480.0, _LEFT + step * (len(there) - 0.5) + 0.22 * (top - 12) + 16),
        ),
        (
            (f"{counted(len(shown), 'sample')}, the gravest at the top, by {counted(len(there), 'topic')} of rules: "
            "the gravest thing that any rule of the topic made of the sample or of one of its results."),
        ),
        tuple(leaves_out),
        legend(
            [Mark(int(kinds[i, at])) for i in shown for at in there if state[i, at] != Outcome.NOT_CONCERNED],
            meanings=_MEANINGS,
        ),
        plotted(
            ("Sample", *titles),
            [
                (
                    visible(str(names[i]), 60),
                    *(WORDS[Mark(int(kinds[i, at]))] if state[i, at] != Outcome.NOT_CONCERNED else "-" for at in there),
                )
                for i in order[:LISTED]
            ],
            len(order), "findings.csv",
        ),
    )  # fmt: skip


def _title(review: Review, topic: str) -> str:
    title, _ = review.rulebook.topics.get(topic, (topic.replace("_", " "), ""))
    return cut(title or topic.replace("_", " "), 170)


def _effects(review: Review, topics: list[str]) -> Int64:
    """Gravest effect by sample number and topic, (k, t): what findings do to a sample, its rows or its results."""
    evidence, found = review.evidence, review.findings
    grid = np.zeros((evidence.sample_count, len(topics)), np.int64)
    number = {topic: at for at, topic in enumerate(topics)}
    topic_of = np.array([number.get(rule.topic, -1) for rule in review.rules], np.int64)[found.rule]

    def put(entry: Int64, sample: Int64, effect: Int64) -> None:
        use = (sample >= 0) & (topic_of[entry] >= 0)
        np.maximum.at(grid, (sample[use], topic_of[entry[use]]), np.minimum(effect[use], int(Effect.REJECT)))

    own = np.asarray(found.effect, dtype=np.int64)
    put(found.samples.entry, found.samples.target, own[found.samples.entry])
    results = evidence.results
    if results is not None and len(found.results_detect) == len(found.results.entry):
        target = found.results.target
        letters = np.where(results.detected[target] == 1, found.results_detect, found.results_nondetect)
        put(found.results.entry, results.sample[target], _effect_of(letters.astype(np.int16)))
    for at, name in enumerate(found.tables):
        rows = found.own.entry[found.table[found.own.entry] == at], found.own.target[found.table[found.own.entry] == at]
        if not len(rows[0]):
            continue
        if name == "results" and results is not None:
            put(rows[0], results.sample[rows[1]], own[rows[0]])
        elif name == "samples" or ("samples", "sample_id") in evidence.sample_ids.columns:
            of = evidence.sample_ids.columns.get((name, "sample_id"))
            if of is not None:
                put(rows[0], of[rows[1]], own[rows[0]])
    return grid


def _effect_of(letters: Int16) -> Int64:
    distinct, code = np.unique(letters, return_inverse=True)
    effects = np.array([Letter(int(one)).effect for one in distinct], np.int64)
    return effects[code.reshape(-1)] if len(letters) else np.empty(0, np.int64)


def _held(review: Review, topics: list[str], samples: Int64) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Whether a rule of the topic holds for some row of the sample, (k, t); looked up for the given samples only."""
    evidence = review.evidence
    grid = np.zeros((evidence.sample_count, len(topics)), bool)
    wanted = np.zeros(evidence.sample_count + 1, bool)
    wanted[samples] = True
    number = {topic: at for at, topic in enumerate(topics)}
    links: dict[str, tuple[Int64, Int64]] = {}
    for index, judged in review.judged:
        rule = review.rules[index]
        name = judged.table or rule.row
        if rule.topic not in number:
            continue
        if name not in links:
            row, sample = _rows_of_samples(evidence, name, wanted)
            keep = wanted[sample]
            links[name] = row[keep], sample[keep]
        row, sample = links[name]
        if len(row) and len(judged.state) > int(row.max()):
            grid[sample[judged.state[row] == Outcome.HOLDS], number[rule.topic]] = True
    return grid


def _rows_of_samples(evidence: Evidence, name: str, wanted: Bool) -> tuple[Int64, Int64]:
    """Pairs (row of a table, sample number) that speak of each other, at least those of the samples wanted."""
    table, samples = evidence.tables.get(name), evidence.samples
    nothing = np.empty(0, np.int64)
    if table is None:
        return nothing, nothing
    if name in ("tracer_tests", "shut_in_tests", "purges"):
        found = getattr(evidence, name)
        return found.row, found.sample
    if name == "results" and evidence.results is not None:
        return np.arange(table.rows), evidence.results.sample
    if name in ("samples", "custody"):
        return np.arange(table.rows), evidence.sample_ids.of(name, "sample_id", table.rows)
    number = np.arange(evidence.sample_count)
    if name in ("probes", "locations"):
        ids, of = (evidence.probe_ids, samples.probe) if name == "probes" else (evidence.location_ids, samples.location)
        row = np.where(of >= 0, ids.rows_of(np.maximum(of, 0)), -1) if len(of) else nothing
        return row[row >= 0], number[row >= 0]
    if name == "equipment_log":
        pairs = [
            (row, one)
            for (home, row), drawn in evidence.drawn_by_use.items()
            if home == name
            for one in drawn[wanted[drawn]].tolist()
        ]
        both = np.array(sorted(pairs), np.int64).reshape(-1, 2)
        return both[:, 0], both[:, 1]
    return _laboratory_rows(evidence, wanted) if name == "lab_qc" else (nothing, nothing)


def _laboratory_rows(evidence: Evidence, wanted: Bool) -> tuple[Int64, Int64]:
    """Control samples and the samples that have a result in their batch or calibration."""
    results, table = evidence.results, evidence.tables.get("lab_qc")
    pairs: set[tuple[int, int]] = set()
    if results is not None and table is not None:
        for column in ("batch_id", "calibration_id"):
            here, there = evidence.batches.get(("results", column)), evidence.batches.get(("lab_qc", column))
            if here is None or there is None:
                continue
            use = (here >= 0) & wanted[results.sample]
            of: dict[int, list[int]] = {}
            for batch, sample in np.unique(np.stack([here[use], results.sample[use]]), axis=1).T.tolist():
                of.setdefault(batch, []).append(sample)
            for row in np.flatnonzero(np.isin(there, list(of))).tolist():
                pairs.update((row, sample) for sample in of[int(there[row])])
    both = np.array(sorted(pairs), np.int64).reshape(-1, 2)
    return both[:, 0], both[:, 1]
