"""The small commands answer at once: they import none of the heavy libraries."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import vaporqa
from vaporqa import cli
from vaporqa.cli import rules

ROOT = Path(__file__).parent.parent.parent
HEAVY = ("pandas", "pandera", "pyarrow", "jinja2", "numpy", "pydantic", "python_calamine", "xlsxwriter")


SMALL = [["--help"], ["--version"], ["rules", "list"], ["tables"], ["tables", "results"]]
SMALL += [[name, "--help"] for name in sorted(cli._COMMANDS)]
SMALL += [["rules", name, "--help"] for name in sorted(rules.command.commands)]


@pytest.mark.parametrize("arguments", SMALL, ids=" ".join)
def test_small_commands_stay_small(arguments: list[str]) -> None:
    program = (
        "import sys\nfrom vaporqa.cli import run\n"
        f"code = run({arguments!r})\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], code, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stderr.strip().splitlines()[-1] == "[] 0"
    assert done.stdout


def test_a_check_imports_no_pandas_and_no_page() -> None:
    program = (
        "import sys\nfrom vaporqa.cli import main\n"
        "try:\n    main(['check', 'sample_inputs/larkspur-yard', '--no-cache'])\n"
        "except SystemExit as ended:\n"
        "    heavy = ('pandas', 'pandera', 'jinja2', 'vaporqa.report.page', 'vaporqa.comparing')\n"
        "    print([name for name in heavy if name in sys.modules], ended.code, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stderr == "[] 0\n"


def test_importing_the_library_imports_nothing_heavy() -> None:
    program = f"import sys, vaporqa; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_version_is_one() -> None:
    done = subprocess.run([sys.executable, "-m", "vaporqa", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == f"vaporqa {vaporqa.__version__}"


def test_public_names_are_sorted_and_there() -> None:
    assert list(vaporqa.__all__) == sorted(vaporqa.__all__)
    for name in vaporqa.__all__:
        assert getattr(vaporqa, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'chekc'"):
        _ = vaporqa.chekc


@pytest.mark.parametrize(
    "arguments", [["tables"], ["tables", "results"], ["tables", "samples"], ["--help"], ["check", "--help"]]
)
def test_help_and_tables_fit_eighty_columns(arguments: list[str]) -> None:
    done = subprocess.run([sys.executable, "-m", "vaporqa", *arguments], capture_output=True, text=True, check=True)
    assert max(map(len, done.stdout.splitlines())) <= 80
