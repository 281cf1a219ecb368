"""Text of tables, headers and file names on every screen, page and sheet: shown, and never obeyed."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
import sys
import unicodedata
import zipfile
from html.parser import HTMLParser
from pathlib import Path

import pytest

import vaporqa
from vaporqa.cli import run

SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "larkspur-yard"
#: A terminal's title, a cleared screen (also as one C1 letter), a turned reading direction, a page's element, commands
#: of a build server, a formula and a link of a spreadsheet, and a macro of another one.
FOREIGN = (
    "\x1b]0;owned\x07", "\x1b[2J", "\x9b2J", "\u202eflipped", "<img src=x onerror=owned()>",
    "</script><script>owned()", "::error::owned", "##[error]owned", "##vso[task.complete]owned",
    "%0A::error::owned", "=1+owned()", "@owned()", "+owned", "-owned()", "\t=owned()", '=HYPERLINK("owned")',
    "javascript:owned()", "{{ owned }}", "[owned](javascript:owned())",
)  # fmt: skip


def folder_of(home: Path, name: str, foreign: tuple[str, ...]) -> Path:
    """The sample with foreign text as keys, words, numbers, headers and names."""
    folder = home / name
    shutil.copytree(SAMPLE, folder)
    texts = list(foreign)
    for table in ("samples", "purges", "results", "probes", "locations", "containers"):
        path = next(iter(folder.glob(f"{table}.*")), None)
        if path is None or path.suffix != ".csv":
            continue
        head, *rows = csv.reader(io.StringIO(path.read_text()))
        for place, row in enumerate(rows):
            text = texts[place % len(texts)]
            column = place % len(row)
            row[column] = text
            if place % 3 == 0:
                row[0] = f"{text}{place}"
        stream = io.StringIO()
        csv.writer(stream, lineterminator="\n").writerows(
            [[*head, f"{texts[1]}{texts[4]}"], *([*row, texts[6]] for row in rows)]
        )
        path.write_text(stream.getvalue())
    declared = (folder / "project.yaml").read_text()
    hostile = declared.replace("project:", "project: '<img src=x onerror=owned()> ::error::owned' #", 1)
    (folder / "project.yaml").write_text(hostile)
    (folder / f"{texts[1]}::error::owned <img onerror=owned()>.csv").write_text("a\n1\n")
    return folder


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    """Two folders of foreign text, each with its run, and both as a programme."""
    home = tmp_path_factory.mktemp("foreign")
    (home / "all").mkdir()
    one = folder_of(home / "all", "<img src=x onerror=owned()>", FOREIGN)
    other = folder_of(home / "all", "::error::two\x1b[2J", FOREIGN[::-1])
    for name, folder in (("run-1", one), ("run-2", other)):
        call = ["check", str(folder), "--out", str(home / name), "--flags-as", "xlsx", "--fail-on", "never"]
        assert run([*call, "--format", f"json={home / name}.json"]) == 0
    assert run(["check", str(home / "all"), "--out", str(home / "programme"), "--fail-on", "never"]) in (0, 2)
    for suffix in (".html", ".md", ".txt", ".csv"):
        assert run(["check", str(one), "--requests", str(home / f"letter{suffix}"), "--fail-on", "never"]) == 0
    runs = [str(home / "run-1"), str(home / "run-2")]
    assert run(["compare", *runs, "--csv", str(home / "moved.csv"), "--html", str(home / "moved.html")]) == 0
    return home


def folders(home: Path) -> list[Path]:
    return sorted((home / "all").iterdir())


def harmless(text: str, commands: bool = False) -> None:
    for line in text.split("\n"):
        bad = [letter for letter in line if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp")]
        assert not bad, repr(line)
        assert "##[" not in line or commands, line
        assert "##vso[" not in line or commands, line
        if line.lstrip().startswith("::"):
            assert commands, line
            assert re.match(r"::(error|warning|notice) [^:]*::", line), line
            assert "\r" not in line


def test_screens(home, capsys):
    one, other = folders(home)
    key = next(csv.DictReader((home / "run-1" / "flags" / "results.csv").open(newline="")))["key"]
    calls = [
        ["check", str(one), "--fail-on", "never"],
        ["check", str(one), str(other), "--fail-on", "never"],
        ["check", str(one), str(other), "--fail-on", "never", "--format", "text"],
        ["compare", str(home / "run-1"), str(home / "run-2")],
        ["compare", str(one), "--against", "illinois"],
        ["trace", str(one), f"results/{key}"],
        ["trace", str(one), "results/no\x1b[2Jsuch"],
        ["inspect", str(one)],
        ["inspect", str(one / "results.csv")],
        ["verify", str(home / "run-1")],
        ["judge", str(one), "no\x1b[2J/such", "--effect", "note", "--by", "crew A", "--why", "x"],
        ["check", str(home / "::error::no\x1b[2J")],
    ]
    capsys.readouterr()
    for call in calls:
        code = run(call)
        out, err = capsys.readouterr()
        assert code != 3, (call, err)
        harmless(out)
        harmless(err)


def test_errors_on_screen(home, tmp_path, capsys):
    for number, (name, text) in enumerate(
        [
            ("results.csv", "".join(f"{one}," for one in FOREIGN) + "\n1\n"),
            ("results.csv", "sample_id,sample_id\x1b[2J,::error::x\n1,2,3,4\n"),
            ("project.yaml", "::error::x: 1\n"),
            ("project.yaml", "  ::error::x: 1\n##[error]y: 2\n"),
            ("project.yaml", 'project: P\ntime_zone: "\\e[2J\\u202e"\n'),
            ("project.yaml", "project: P\ntime_zone: \u202eUTC\x85\n"),
            ("judgements.yaml", 'format: 1\njudgements:\n  - finding: "\\e[2J"\n    ::error::x: 1\n'),
        ]
    ):
        folder = tmp_path / str(number)
        shutil.copytree(SAMPLE, folder)
        (folder / name).write_text(text)
        code = run(["check", str(folder), "--fail-on", "never"])
        out, err = capsys.readouterr()
        assert code in (0, 2), err
        harmless(out)
        harmless(err)


def test_annotations_are_one_command_a_line(home, capsys):
    capsys.readouterr()
    assert run(["check", str(folders(home)[0]), "--fail-on", "never", "--format", "annotations"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert sum(line.startswith("::") for line in lines) >= 10
    harmless("\n".join(lines), commands=True)
    assert not any(re.match(r"::error::", line) for line in lines)


class Elements(HTMLParser):
    """Every element that a browser would make."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.scripts: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.found and self.found[-1][0] == "script":
            self.scripts.append(data)


@pytest.mark.parametrize(
    "page", ["run-1/report.html", "run-2/report.html", "moved.html", "letter.html", "programme/programme.html"]
)
def test_pages(home, page):
    text = (home / page).read_bytes().decode()
    elements = Elements()
    elements.feed(text)
    assert "owned" in text
    for tag, attributes in elements.found:
        assert tag not in ("iframe", "object", "embed", "base", "img"), attributes
        assert not any(name.startswith("on") for name in attributes), attributes
        for name in ("href", "src", "action"):
            link = (attributes.get(name) or "").strip().lower()
            assert not re.match(r"javascript|data|https?:|//", link), attributes
    assert not any("owned" in script for script in elements.scripts if "application/json" not in script)
    assert not [letter for letter in text if unicodedata.category(letter) in ("Cc", "Cf") and letter not in "\n\xad"]


@pytest.mark.parametrize(
    "sheet",
    ["run-1/flags/*.csv", "run-1/findings.csv", "run-2/flags/*.csv", "moved.csv", "letter.csv", "programme/*.csv"],
)
def test_sheets_of_text(home, sheet):
    paths = sorted(home.glob(sheet))
    assert paths
    for path in paths:
        for row in csv.reader(io.StringIO(path.read_bytes().decode(), newline="")):
            for cell in row:
                number = re.fullmatch(r"[+-]?[0-9.]+([eE][+-]?[0-9]+)?", cell)
                assert number or not cell.startswith(tuple("=+-@\t\r\n＝＋－＠")), (path.name, cell)


def test_sheets_of_a_workbook_hold_no_formula_and_no_link(home):
    (path,) = (home / "run-1").glob("*.xlsx")
    with zipfile.ZipFile(path) as book:
        sheets = [name for name in book.namelist() if name.startswith("xl/worksheets/")]
        assert sheets
        for name in sheets:
            assert b"<f" not in book.read(name)
            assert b"<hyperlink" not in book.read(name)
        assert not [name for name in book.namelist() if "externalLink" in name or name.endswith(".bin")]


def test_a_letter_in_markdown_makes_no_link(home):
    text = (home / "letter.md").read_bytes().decode()
    assert not re.search(r"(?<!\\)\]\(", text)
    assert not re.search(r"(?<!\\)<(img|script)", text)


NO_NETWORK = """
import socket
def refuse(*given, **more):
    raise RuntimeError("a socket was opened")
class Refused(socket.socket):
    def __init__(self, *given, **more):
        refuse()
socket.socket = Refused
socket.create_connection = socket.getaddrinfo = socket.gethostbyname = refuse
"""


def test_no_socket_is_opened(home, tmp_path):
    site = tmp_path / "site"
    site.mkdir()
    (site / "sitecustomize.py").write_text(NO_NETWORK)
    environment = {**os.environ, "PYTHONPATH": f"{site}{os.pathsep}{Path(vaporqa.__file__).parents[1]}"}

    def called(*given: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run([sys.executable, *given], check=False, capture_output=True, text=True, env=environment)

    assert "a socket was opened" in called("-c", "import socket; socket.socket()").stderr
    folder = tmp_path / "folder"
    shutil.copytree(SAMPLE, folder)
    with (SAMPLE / "results.csv").open(newline="") as lines:
        row = next(csv.DictReader(lines))
    out = str(tmp_path / "run")
    for call in (
        ["check", str(folder), "--out", out, "--fail-on", "never", "--flags-as", "xlsx"],
        ["compare", out, out],
        ["verify", out],
        ["trace", str(folder), f"results/{row['result_id']}" if row.get("result_id") else "results/x"],
        ["inspect", str(folder / "results.csv")],
        ["judge", str(folder), "no-such/results/x", "--effect", "note", "--by", "crew A", "--why", "x"],
        ["rules", "list"],
    ):
        done = called("-m", "vaporqa", *call)
        assert done.returncode in (0, 1, 2), (call, done.stderr)
        assert "a socket was opened" not in done.stderr + done.stdout
