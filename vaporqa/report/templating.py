"""Pages from templates: every value is escaped, and a name that a template does not know is a fault, not a blank."""

from __future__ import annotations

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


def rendered(template: str, **values: Any) -> bytes:
    """Return a page as UTF-8."""
    return environment().get_template(template).render(**values).encode("utf-8", "backslashreplace")
