"""report.pdf by the library that makes it: whole, the same twice, and known to `verify`."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.cli import run
from vaporqa.report.pdf import pdf_file

pytest.importorskip("weasyprint")
pytestmark = pytest.mark.browser
SAMPLE = Path(__file__).parents[2] / "sample_inputs" / "quillback-wharf"


def test_a_run_writes_it_and_verify_makes_it_again(tmp_path, capsys):
    out = tmp_path / "run"
    assert run(["check", str(SAMPLE), "--out", str(out), "--pdf", "--fail-on", "never"]) == 0
    content = (out / "report.pdf").read_bytes()
    assert content.startswith(b"%PDF-")
    assert content.rstrip().endswith(b"%%EOF")
    assert run(["verify", str(out)]) == 0
    assert run(["check", str(SAMPLE), "--out", str(out), "--fail-on", "never"]) == 0
    assert not (out / "report.pdf").exists()
    capsys.readouterr()


def test_the_same_page_makes_the_same_bytes():
    page = b"<!doctype html><html lang='en'><title>x</title><p>One page of ours."
    assert pdf_file(page) == pdf_file(page)
