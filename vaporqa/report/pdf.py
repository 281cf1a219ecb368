"""report.html as PDF, made on this machine: nothing is fetched, and the same page makes the same bytes."""

from __future__ import annotations

from importlib.util import find_spec
from typing import NoReturn

from vaporqa.errors import Problem, UsageError

PDF_FILE = "report.pdf"
_MEND = "install `vaporqa[pdf]` and the Pango library of your system, or print report.html from a browser"


def check_pdf() -> None:
    """Refuse, before anything is judged, where PDF cannot be made.

    Raises
    ------
    UsageError
        With how to install what is missing.
    """
    if find_spec("weasyprint") is None:
        message = "PDF is made with the library WeasyPrint, which is not installed"
        raise UsageError(Problem("", 0, 0, message, _MEND))
    try:
        import weasyprint
    except OSError as error:
        # It loads the text library of the system when it is imported.
        message = f"PDF cannot be made here: {str(error).splitlines()[0]}"
        raise UsageError(Problem("", 0, 0, message, _MEND)) from error
    assert weasyprint.VERSION


def pdf_file(page: bytes) -> bytes:
    """Return a page of ours as PDF.

    Parameters
    ----------
    page : bytes
        report.html: one file that refers to nothing outside itself.

    Raises
    ------
    UsageError
        As `check_pdf`.
    """
    check_pdf()
    import weasyprint

    made = weasyprint.HTML(string=page.decode("utf-8"), url_fetcher=_refuse).write_pdf()
    return bytes(made)


def _refuse(url: str, *_: object, **__: object) -> NoReturn:
    raise ValueError(f"a report refers to nothing outside itself, and this page asks for {url}")
