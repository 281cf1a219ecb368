"""PDF is refused in good time where it cannot be made, and a page that asks for anything outside itself fails."""

from __future__ import annotations

import pytest

from vaporqa.cli import run
from vaporqa.errors import UsageError
from vaporqa.report import pdf


def test_a_missing_library_is_said_before_anything_is_judged(monkeypatch):
    monkeypatch.setattr(pdf, "find_spec", lambda name: None)
    with pytest.raises(UsageError) as fault:
        pdf.check_pdf()
    assert "the library WeasyPrint, which is not installed; install `vaporqa[pdf]`" in str(fault.value)


def test_a_page_asks_for_nothing():
    with pytest.raises(ValueError, match=r"asks for https://host\.invalid/x\.png"):
        pdf._refuse("https://host.invalid/x.png")


def test_pdf_needs_a_folder(capsys):
    assert run(["check", "sample_inputs/larkspur-yard", "--pdf"]) == 2
    assert "--pdf writes beside the report; name a folder with --out" in capsys.readouterr().err
