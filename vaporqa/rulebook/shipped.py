"""Where the shipped rule files lie, their order, and what stands in them at a glance.

Free of numpy and pydantic: `vaporqa rules list` answers from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vaporqa.errors import Problem, RulebookError
from vaporqa.tables.yaml_nodes import Entries, Items, Node, Scalar, read_document

#: Order of the shipped topics; any further file follows in the order of its name.
TOPIC_ORDER = (
    "intake", "installation", "shut_in", "leak_tracer", "purge", "sampling", "decontamination", "field_instruments",
    "custody", "holding_times", "blanks", "recovery", "calibration", "duplicates", "reporting", "cautions",
)  # fmt: skip
SUFFIXES = (".yaml", ".yml")


def find_shipped() -> Path:
    """Return the folder of the shipped rule files: inside an installed package, else at the root of the repository.

    Raises
    ------
    RulebookError
        Neither place has them.
    """
    package = Path(__file__).resolve().parent.parent
    for folder in (package / "shipped_rules", package.parent / "rules"):
        if folder.is_dir():
            return folder
    raise RulebookError(Problem(str(package), 0, 0, "the shipped rules are missing", "install vaporqa again"))


def topic_files(home: Path) -> list[Path]:
    """Return the rule files of a folder in rulebook order."""

    def place(path: Path) -> tuple[int, str]:
        known = TOPIC_ORDER.index(path.stem) if path.stem in TOPIC_ORDER else len(TOPIC_ORDER)
        return known, path.name

    return sorted(_yaml_in(home), key=place)


def profile_files(home: Path) -> list[Path]:
    """Return the profile files of a folder of rules, by name."""
    return sorted(_yaml_in(home / "profiles"), key=lambda path: path.name)


def _yaml_in(folder: Path) -> list[Path]:
    return [path for path in folder.iterdir() if path.suffix in SUFFIXES and path.is_file()] if folder.is_dir() else []


@dataclass(frozen=True, slots=True)
class Heading:
    """One rule at a glance; `topic` is the stem of its file, `topic_title` the heading of that file."""

    topic: str
    topic_title: str
    id: str
    title: str
    off: bool


def shipped_headings(home: Path | None = None) -> tuple[Heading, ...] | None:
    """Return the shipped rules at a glance, in rulebook order; None where a file must be read with care.

    The files are not judged: that is what `load_rulebook` does, which says what is wrong where this returns None.
    """
    headings: list[Heading] = []
    for path in topic_files(home if home is not None else find_shipped()):
        document = read_document(path.read_bytes(), path.name)
        root = document.root
        rules = root.get("rules") if isinstance(root, Entries) else None
        if rules is None and isinstance(root, Entries) and root.get("schemes") is not None:
            rules = Items((), 0, 0)
        if document.problems or not isinstance(root, Entries) or not isinstance(rules, Items):
            return None
        topic = _text(root.get("topic"))
        for rule in rules:
            if not isinstance(rule, Entries):
                return None
            name, title = _text(rule.get("id")), _text(rule.get("title"))
            if not (topic and name and title):
                return None
            headings.append(Heading(path.stem, topic, name, title, _text(rule.get("off")).lower() in ("yes", "true")))
    return tuple(headings)


def _text(node: Node | None) -> str:
    return " ".join(node.text.split()) if isinstance(node, Scalar) else ""
