"""Pages from templates: every value is escaped, and a name that a template does not know is a fault, not a blank."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from vaporqa.report.wording import visible

if TYPE_CHECKING:
    import jinja2


def environment() -> jinja2.Environment:
    """Return the environment that every page of ours is made in; `short` cuts a text and shows what is invisible."""
    import jinja2  # start-up time

    made = jinja2.Environment(
        loader=jinja2.PackageLoader("vaporqa.report", "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    made.filters["short"] = lambda text, size=90: visible(str(text), size)
    made.filters["count"] = lambda number: f"{int(number):,}"
    return made


def script_sum() -> str:
    """Return the sum of the page's one script, for the content-security policy: no other script runs there."""
    # The template engine drops the line end that closes a file.
    text = (files("vaporqa.report") / "templates" / "report.js").read_text(encoding="utf-8").removesuffix("\n")
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")


def rendered(template: str, **values: Any) -> bytes:
    """Return a page as UTF-8."""
    return environment().get_template(template).render(**values).encode("utf-8", "backslashreplace")
