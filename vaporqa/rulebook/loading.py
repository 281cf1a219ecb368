"""The rulebook loaded: shipped rule files, those of the project, and the profiles asked for, in one order."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from vaporqa.criteria import Change, Rule, Rulebook, Scheme
from vaporqa.errors import Problem, RulebookError, UsageError, did_you_mean
from vaporqa.rulebook.profiles import (
    BASELINE,
    ProfileRead,
    Standing,
    apply_profile,
    is_profile,
    profile_problems,
    read_profile,
)
from vaporqa.rulebook.shipped import SUFFIXES, find_shipped, profile_files, topic_files
from vaporqa.rulebook.topics import TopicRead, read_topic
from vaporqa.rulebook.vocabulary import BASELINE_CHOICES, SCHEME_CHOICE, Vocabulary
from vaporqa.tables.yaml_nodes import SIZE_LIMIT, Document, Entries, Items, Scalar, read_document

PROJECT_FILE = "project.yaml"


@dataclass(frozen=True, slots=True)
class _Found:
    """A rule file or profile to be read, and how it is shown to a person."""

    path: Path
    shown: str
    shipped: bool


def load_rulebook(
    *,
    shipped: Path | None = None,
    extra: Sequence[Path] = (),
    profiles: Sequence[str] = (),
    folder: Path | None = None,
    further: Sequence[Path] = (),
    vocabulary: Vocabulary | None = None,
    stated: Document | None = None,
) -> Rulebook:
    """Return every rule in force, with the profiles applied.

    Parameters
    ----------
    shipped : Path, optional
        Folder of the shipped rule files, its profiles under ``profiles/``; `find_shipped` where not given.
    extra : sequence of Path
        Rule files, profile files and folders of them, as `rules:` of project.yaml names them; relative to `folder`,
        which they may not leave.
    profiles : sequence of str
        Names, later over earlier; a name that stands twice counts where it stands last.
    folder : Path, optional
        The project folder.
    further : sequence of Path
        As `extra`, but named by the person who runs: they may lie anywhere.
    vocabulary : Vocabulary, optional
        Checks and measures that rules may name; all installed ones where not given.
    stated : Document, optional
        The project.yaml that names profiles, so that a wrong name is told with its place.

    Raises
    ------
    RulebookError
        Everything that is wrong with every file.
    UsageError
        A profile that does not exist.
    """
    words = vocabulary or Vocabulary.installed()
    problems: list[Problem] = []
    home = shipped if shipped is not None else find_shipped()
    found = [*_shipped_files(home), *_own_files(extra, folder, problems), *_further_files(further, problems)]
    topics, read_profiles, files = _read(found, words, problems)
    rules, schemes = _stand_together(topics, problems)
    standing = Standing(
        {rule_id: limits for topic in reversed(topics) for rule_id, (_, limits) in topic.places.items()}, tuple(schemes)
    )
    by_id = {rule.id: rule for rule in reversed(rules)}  # of two with one id the first stands
    if schemes and BASELINE_CHOICES[SCHEME_CHOICE] not in schemes and home == find_shipped():
        message = f"no rule file has the scheme '{BASELINE_CHOICES[SCHEME_CHOICE]}' of the baseline"
        problems.append(Problem(str(home), 0, 0, message))
    for profile, _ in read_profiles.values():
        problems += profile_problems(profile, standing, by_id, words)
    if problems:
        raise RulebookError(sorted(set(problems), key=lambda one: (one.file, one.line, one.column, one.message)))
    applied, changes, choose = rules, list[Change](), BASELINE_CHOICES
    chosen = _chosen(profiles, read_profiles, stated)
    for profile in chosen:
        applied, choose, changed = apply_profile(profile, applied, choose, words, schemes)
        changes += changed
    return Rulebook(
        rules=applied,
        profiles=tuple(profile.name for profile in chosen),
        changes=tuple(changes),
        choose=MappingProxyType(dict(choose)),
        files=MappingProxyType(files),
        topics=MappingProxyType({topic.name: (topic.title, topic.about) for topic in topics}),
        schemes=MappingProxyType(schemes),
    )


def profile_summaries(*, shipped: Path | None = None) -> Mapping[str, str]:
    """Return the shipped profiles, name to what each says of itself.

    Raises
    ------
    RulebookError
        A profile file is not well shaped.
    """
    home = shipped if shipped is not None else find_shipped()
    summaries: dict[str, str] = {}
    problems: list[Problem] = []
    for found in _shipped_files(home):
        if found.path.parent.name == "profiles":
            profile = read_profile(read_document(found.path.read_bytes(), found.shown))
            summaries[profile.name] = profile.about
            problems += profile.problems
    if problems:
        raise RulebookError(problems)
    return summaries


# -- files -----------------------------------------------------------------------------------------------------------


def _shipped_files(home: Path) -> list[_Found]:
    """Return the shipped files in rulebook order, profiles last."""
    paths = (*topic_files(home), *profile_files(home))
    return [_Found(path, f"rules/{path.relative_to(home).as_posix()}", True) for path in paths]


def _own_files(extra: Sequence[Path], folder: Path | None, problems: list[Problem]) -> list[_Found]:
    """Return the files that the project names, each inside its folder once links are followed."""
    found: list[_Found] = []
    root = folder.resolve() if folder is not None else None
    for stated in map(Path, extra):
        path = folder / stated if folder is not None else stated
        for one in _walk(path, stated.as_posix(), problems):
            if root is not None and not one.resolve().is_relative_to(root):
                message = f"the rule file {_shown(one, folder)} leaves the project folder"
                problems.append(Problem(PROJECT_FILE, 0, 0, message, "copy it into the folder"))
                continue
            if one.is_file():
                found.append(_Found(one, _shown(one, folder), False))
    return _once(found)


def _further_files(further: Sequence[Path], problems: list[Problem]) -> list[_Found]:
    paths = [one for path in map(Path, further) for one in _walk(path, path.as_posix(), problems)]
    return _once([_Found(path, path.as_posix(), False) for path in paths if path.is_file()])


def _walk(path: Path, stated: str, problems: list[Problem]) -> Iterator[Path]:
    """Yield a rule file, or the rule files of a folder in name order, folders that are links included for refusal."""
    if path.is_dir():
        inside = sorted(one for one in path.rglob("*") if one.suffix in SUFFIXES)
        if not inside:
            problems.append(Problem(stated, 0, 0, "this folder holds no rule file", "rule files end in .yaml"))
        yield from inside
    elif path.exists():
        yield path
    else:
        problems.append(Problem(stated, 0, 0, "there is no such rule file or folder", "mend the path"))


def _shown(path: Path, folder: Path | None) -> str:
    if folder is not None and path.is_relative_to(folder):
        return path.relative_to(folder).as_posix()
    return path.as_posix()


def _once(found: Iterable[_Found]) -> list[_Found]:
    """Drop files that are named twice."""
    return list({one.path.resolve(): one for one in reversed(list(found))}.values())[::-1]


# -- reading ---------------------------------------------------------------------------------------------------------

_Profiles = dict[str, tuple[ProfileRead, bool]]


def _read(
    found: Sequence[_Found], vocabulary: Vocabulary, problems: list[Problem]
) -> tuple[list[TopicRead], _Profiles, dict[str, str]]:
    """Return topics, profiles by name (with whether each is shipped), and the hash of every file."""
    topics: list[TopicRead] = []
    profiles: _Profiles = {}
    files: dict[str, str] = {}
    for one in found:
        document, sha256 = _document(one)
        files[one.shown] = sha256
        if not isinstance(document.root, Entries):
            empty = document.problem(document.root, "this is no rule file and no profile", "begin with format: 1")
            problems += document.problems or (empty,)
        elif is_profile(document):
            profile = read_profile(document)
            problems += profile.problems
            if profile.name in profiles:
                other = profiles[profile.name][0].document.file
                message = f"the profile '{profile.name}' stands already in {other}"
                problems.append(document.problem(document.root.get("profile"), message, "give it another name"))
            else:
                profiles[profile.name] = (profile, one.shipped)
        else:
            topic = read_topic(document, vocabulary)
            problems += topic.problems
            topics.append(topic)
    return topics, profiles, files


def _document(found: _Found) -> tuple[Document, str]:
    try:
        if found.path.stat().st_size > SIZE_LIMIT:  # not read at all: it may be larger than memory
            message = f"the file has {found.path.stat().st_size:,} bytes; at most {SIZE_LIMIT:,} are read"
            return Document(found.shown, (), None, (Problem(found.shown, 0, 0, message, "split it"),)), ""
        data = found.path.read_bytes()
    except OSError as error:
        return Document(found.shown, (), None, (Problem(found.shown, 0, 0, f"cannot be read: {error.strerror}"),)), ""
    return read_document(data, found.shown), hashlib.sha256(data).hexdigest()


def _stand_together(topics: Sequence[TopicRead], problems: list[Problem]) -> tuple[tuple[Rule, ...], dict[str, Scheme]]:
    """Return all rules in order and all schemes; what stands in two files is a problem."""
    rules: list[Rule] = []
    owners: dict[str, Rule] = {}
    schemes: dict[str, Scheme] = {}
    names: dict[str, str] = {}
    for topic in topics:
        document = topic.document
        if topic.name in names:
            message = f"the topic '{topic.name}' stands already in {names[topic.name]}"
            problems.append(Problem(document.file, 0, 0, message, "call this file otherwise"))
        names.setdefault(topic.name, document.file)
        for rule in topic.rules:
            other = owners.get(rule.id)
            if other is not None and other.file != rule.file:
                message = f"the rule '{rule.id}' stands already in {other.file}:{other.line}"
                excerpt = document.lines[rule.line - 1]
                column = excerpt.find(rule.id) + 1
                problems.append(Problem(rule.file, rule.line, column, message, "give it another id", excerpt))
            elif rule.id in topic.places:
                owners[rule.id] = rule
            rules.append(replace(rule, order=len(rules)))
        for scheme in topic.schemes:
            if scheme.name in schemes:
                message = f"the scheme '{scheme.name}' stands already in {schemes[scheme.name].file}"
                problems.append(Problem(scheme.file, scheme.line, 0, message, "give it another name"))
            schemes.setdefault(scheme.name, scheme)
    return tuple(rules), schemes


def _chosen(names: Sequence[str], profiles: _Profiles, stated: Document | None) -> list[ProfileRead]:
    """Return the profiles to apply, in order: those named, then the project's own files that are not named."""
    known = (BASELINE, *profiles)
    problems = []
    for name in names:
        if name not in known:
            mend = did_you_mean(name, known) or "known: " + ", ".join(known)
            problems.append(_no_profile(name, mend, stated))
    if problems:
        raise UsageError(problems)
    wanted = list(dict.fromkeys(reversed([name for name in names if name != BASELINE])))[::-1]
    own = [name for name, (_, is_shipped) in profiles.items() if not is_shipped and name not in wanted]
    return [profiles[name][0] for name in (*wanted, *own)]


def _no_profile(name: str, mend: str, stated: Document | None) -> Problem:
    """The place in project.yaml that names the profile; none where the command line does."""
    message = f"there is no profile '{name}'"
    root = stated.root if stated is not None else None
    node = root.get("profile") if isinstance(root, Entries) else None
    for one in node if isinstance(node, Items) else (node,):
        if stated is not None and isinstance(one, Scalar) and one.text.strip() == name:
            return stated.problem(one, message, mend)
    return Problem("", 0, 0, message, mend)
