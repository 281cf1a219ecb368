"""judgements.yaml: read strictly, every fault at its place; written so that what stands there stays."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import jsonschema
import pytest
import yaml
from test_schemas import EditorLoader

from vaporqa.errors import FolderError, OutputError
from vaporqa.outcomes import Effect, Letter, Pair
from vaporqa.rulebook.judgement_file import Judgement, Judgements, load_judgements, read_judgements
from vaporqa.rulebook.judgement_lines import with_judgement
from vaporqa.rulebook.schemas import HERE

ENTRY = """\
- finding: purge-flow/purges/PU-A04
  date: 2026-03-09
  by: reviewer A
  why: The pump log shows 190 mL/min.
  effect: note
  detect: note
  nondetect: note
  original: {effect: estimate, detect: J, nondetect: UJ}
  fingerprint: 0123456789abcdef0123456789abcdef
"""
HEAD = "format: 1\njudgements:\n"
GOOD = HEAD + ENTRY


def faults(text: str) -> list[str]:
    with pytest.raises(FolderError) as caught:
        read_judgements(text.encode())
    return [str(problem).splitlines()[0] for problem in caught.value.problems]


def new(finding: str = "holding-time/results/R1", why: str = "Kept cold.", day: int = 10) -> Judgement:
    return Judgement(
        finding, dt.date(2026, 3, day), "reviewer B", why, Effect.ESTIMATE, Pair(Letter.J_MINUS, Letter.UJ),
        Effect.REJECT, Pair(Letter.R, Letter.R), "33 d", "at most 30 d", "f" * 32,
    )  # fmt: skip


def test_a_good_file_says_what_it_says() -> None:
    (one,) = read_judgements(GOOD.encode()).entries
    assert (one.finding, one.date, one.by) == ("purge-flow/purges/PU-A04", dt.date(2026, 3, 9), "reviewer A")
    assert (one.effect, str(one.pair), str(one.original)) == (Effect.NOTE, "note / note", "J / UJ")
    assert (one.superseded, one.line) == (None, 3)


@pytest.mark.parametrize(
    ("old", "new_text", "expected"),
    [
        ("  by: reviewer A\n", "  bye: reviewer A\n",
         "judgements.yaml:5:3: unknown key 'bye' in judgements; did you mean 'by'?"),
        ("  why: The pump log shows 190 mL/min.\n", "",
         ("judgements.yaml:3:3: 'why' is missing in judgements; why: the reason, in a sentence that a third person can "
         "follow")),
        ("why: The pump log shows 190 mL/min.", 'why: "  "',
         "judgements.yaml:6:8: nothing stands here; fill it in or leave the key out"),
        ("date: 2026-03-09", "date: 2026-02-30",
         "judgements.yaml:4:9: '2026-02-30' is not a date; write year, month and day, such as 2026-03-09"),
        ("date: 2026-03-09", "date: 3/9/2026",
         "judgements.yaml:4:9: '3/9/2026' is not a date; write year, month and day, such as 2026-03-09"),
        ("  effect: note", "  effect: estimated",
         "judgements.yaml:7:11: 'estimated' is not known here; did you mean 'estimate'?"),
        ("  detect: note", "  detect: UJ",
         "judgements.yaml:8:11: 'UJ' is no letter for a detect; write one of: -, note, J, J+, J-, NJ, unproven, R"),
        ("  detect: note", "  detect: U",
         ("judgements.yaml:8:11: 'U' stands at a limit that a blank states, and a judgement states none; write one of: "
         "-, note, J, J+, J-, NJ, unproven, R")),
        ("  nondetect: note", "  nondetect: unprovn",
         "judgements.yaml:9:14: 'unprovn' is no letter; did you mean 'unproven'?"),
        ("  detect: note", "  detect: R",
         ("judgements.yaml:7:11: the effect is note, and the letter R for a detect is graver; write effect reject, or "
         "a letter that goes no further than note")),
        ("  effect: note", "  effect: reject",
         ("judgements.yaml:7:11: the effect is reject, and neither letter (note / note) goes as far; write "
         "effect note, or a letter of reject")),
        ("finding: purge-flow/purges/PU-A04", "finding: result-judged/results/R1",
         ("judgements.yaml:7:11: a finding of result-judged says that a result has nothing to rely on; no judgement "
         "can make it usable; supply the evidence, or judge it unproven or reject")),
        ("0123456789abcdef0123456789abcdef", "0123",
         ("judgements.yaml:11:16: '0123' is no fingerprint; `vaporqa judge` writes it: 32 of the signs 0 to 9 and a "
          "to f")),
        ("effect: estimate,", "effect: estmate,",
         "judgements.yaml:10:22: 'estmate' is not known here; did you mean 'estimate'?"),
        ("format: 1", "format: 2", "judgements.yaml:1:9: '2' is not known here; write one of: 1"),
        ("judgements:\n", "judgement:\n",
         "judgements.yaml:2:1: unknown key 'judgement'; did you mean 'judgements'?"),
    ],
)  # fmt: skip
def test_each_fault_is_named_with_its_place(old: str, new_text: str, expected: str) -> None:
    assert GOOD.count(old) == 1
    assert expected in faults(GOOD.replace(old, new_text))


def test_every_fault_is_named_at_once() -> None:
    text = GOOD.replace("date: 2026-03-09", "date: soon").replace("  by: reviewer A\n", "") + ENTRY
    assert [line.split(": ", 1)[0] for line in faults(text)] == ["judgements.yaml:3:3", "judgements.yaml:4:9"]


def test_a_finding_is_judged_once() -> None:
    (said,) = faults(GOOD + ENTRY)
    assert said == (
        "judgements.yaml:12:12: 'purge-flow/purges/PU-A04' is judged a second time (first in line 3); keep one, or "
        "write `superseded: <day>` into the earlier one"
    )
    history = GOOD + "  superseded: 2026-03-10\n" + ENTRY
    assert [one.superseded is None for one in read_judgements(history.encode()).entries] == [False, True]


@pytest.mark.parametrize("text", ["", "# nothing\n"])
def test_a_file_that_says_nothing_is_refused(text: str) -> None:
    assert faults(text) == [
        "judgements.yaml: the file says nothing; remove it, or let `vaporqa judge` write it"
    ]  # fmt: skip


def test_a_list_is_no_file() -> None:
    assert faults(ENTRY)


def test_a_folder_without_the_file_has_no_judgement(tmp_path: Path) -> None:
    assert load_judgements(tmp_path).entries == ()


def test_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "outside.yaml").write_text(GOOD)
    folder = tmp_path / "project"
    folder.mkdir()
    (folder / "judgements.yaml").symlink_to(tmp_path / "outside.yaml")
    with pytest.raises(FolderError, match="the link leaves the project folder"):
        load_judgements(folder)


def test_a_link_that_dangles_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    """Nothing is read by it; but a judgement would be written to where it points."""
    folder = tmp_path / "project"
    folder.mkdir()
    (folder / "judgements.yaml").symlink_to(tmp_path / "not-yet.yaml")
    with pytest.raises(FolderError, match="the link leaves the project folder"):
        load_judgements(folder)


def test_a_folder_of_that_name_is_refused(tmp_path: Path) -> None:
    (tmp_path / "judgements.yaml").mkdir()
    with pytest.raises(FolderError, match="this is no file"):
        load_judgements(tmp_path)


# Writing


def test_a_first_judgement_makes_the_file() -> None:
    data = with_judgement(Judgements(), new())
    (one,) = read_judgements(data).entries
    assert (one.finding, one.measured, one.limit) == ("holding-time/results/R1", "33 d", "at most 30 d")
    schema = json.loads((HERE / "judgements.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft7Validator(schema).validate(yaml.load(data, Loader=EditorLoader))


def test_what_stands_there_stays() -> None:
    text = "# ours\n" + GOOD + "# read on 9 March\n"
    data = with_judgement(read_judgements(text.encode()), new())
    assert data.decode().startswith(text)
    assert [one.finding for one in read_judgements(data).entries] == [
        "purge-flow/purges/PU-A04", "holding-time/results/R1",
    ]  # fmt: skip


@pytest.mark.parametrize("indent", ["", "  ", "    "])
def test_the_indent_of_the_list_is_kept(indent: str) -> None:
    text = HEAD + "".join(f"{indent}{line}\n" for line in ENTRY.splitlines())
    assert len(read_judgements(with_judgement(read_judgements(text.encode()), new())).entries) == 2


@pytest.mark.parametrize(
    "text", [GOOD.rstrip("\n"), GOOD.replace("\n", "\r\n"), HEAD.rstrip("\n") + " []\n", HEAD + ENTRY + "\n\n"]
)
def test_other_line_ends_and_an_empty_list_serve(text: str) -> None:
    before = read_judgements(text.encode())
    data = with_judgement(before, new())
    assert len(read_judgements(data).entries) == len(before.entries) + 1
    assert (b"\r\n" in data) == ("\r\n" in text)


def test_an_earlier_judgement_becomes_history() -> None:
    before = read_judgements(GOOD.encode())
    after = read_judgements(with_judgement(before, new("purge-flow/purges/PU-A04")))
    assert [(one.by, one.superseded) for one in after.entries] == [
        ("reviewer A", dt.date(2026, 3, 10)), ("reviewer B", None),
    ]  # fmt: skip
    third = read_judgements(with_judgement(after, new("purge-flow/purges/PU-A04", day=11)))
    assert [one.superseded for one in third.entries] == [dt.date(2026, 3, 10), dt.date(2026, 3, 11), None]


@pytest.mark.parametrize(
    "text",
    [
        'a "quoted" word', "back\\slash", "colon: and # hash", "- dash", "[list]", "tab\there", "*", "Ünïcödé µg/m³",
        "\u202eturned", "\x7f", "😀",
    ],
)  # fmt: skip
def test_any_text_comes_back_as_it_was(text: str) -> None:
    (one,) = read_judgements(with_judgement(Judgements(), new(f"known-flag/results/*:{text}"))).entries
    assert one.finding == f"known-flag/results/*:{text}"


@pytest.mark.parametrize(
    "text",
    [
        (
            "format: 1\njudgements: [{finding: a/b/c, date: 2026-03-09, by: x, why: y, effect: note, detect: note, "
            "nondetect: note, original: {effect: note, detect: note, nondetect: note}, fingerprint: "
            "0123456789abcdef0123456789abcdef}]\n"
        ),
        "judgements:\n" + ENTRY + "format: 1\n",
    ],
)
def test_a_file_that_takes_no_entry_at_its_end_is_left_alone(text: str) -> None:
    with pytest.raises(OutputError, match="no entry can be added to the file as it is written"):
        with_judgement(read_judgements(text.encode()), new())
