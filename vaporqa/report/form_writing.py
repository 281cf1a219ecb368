"""The folder of blank forms: a page file a size of paper, and a workbook a table."""

from __future__ import annotations

from pathlib import Path

from vaporqa.errors import OutputError, Problem
from vaporqa.report.flags_as import check_forms
from vaporqa.report.form_books import form_book
from vaporqa.report.form_columns import Forms
from vaporqa.report.form_pages import PAPERS, forms_page
from vaporqa.report.pdf import check_pdf, pdf_file
from vaporqa.report.writing import write_file


def write_forms(forms: Forms, out: Path, *, pdf: bool = False, workbooks: bool = True) -> tuple[Path, ...]:
    """Write the forms into a new or empty folder and return the files.

    Never over an earlier set: its workbooks may be filled in.

    Raises
    ------
    UsageError
        A library that is asked for is not installed.
    OutputError
        The folder holds something, or cannot be written.
    """
    check_out(out)
    if workbooks:
        check_forms(["xlsx"])
    if pdf:
        check_pdf()
    content: dict[str, bytes] = {}
    for paper in PAPERS:
        page = forms_page(forms, paper)
        content[f"forms-{paper.lower()}.html"] = page
        if pdf:
            content[f"forms-{paper.lower()}.pdf"] = pdf_file(page)
    if workbooks:
        content |= {f"{form.table.name}.xlsx": form_book(form, forms.safety) for form in forms.forms}
    for name, made in content.items():
        write_file(out / name, made)
    return tuple(out / name for name in content)


def check_out(out: Path) -> None:
    """Refuse a folder that is neither new nor empty, before anything is read."""
    if not out.exists():
        return
    if not out.is_dir():
        raise OutputError(Problem(str(out), 0, 0, "this is a file, not a folder", "name a new folder with --out"))
    names = sorted(entry.name for entry in out.iterdir())
    if names:
        message = f"the folder is not empty (it has {names[0]}), and a form in it may be filled in"
        raise OutputError(Problem(str(out), 0, 0, message, "name a new or empty folder with --out"))
