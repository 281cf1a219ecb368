"""A rule file that holds blank schemes and no rules yet."""

from __future__ import annotations

from pathlib import Path

import pytest

from vaporqa.errors import RulebookError
from vaporqa.rulebook import load_rulebook, shipped_headings

SCHEMES = """format: 1
topic: Blanks
about: What a blank does.
schemes:
  five-times:
    about: the departmental table
    source: {document: Guidelines, year: 2022}
    backing: verified
    cells: [{then: J+}]
"""


def test_schemes_need_no_rules_beside_them(tmp_path: Path) -> None:
    (tmp_path / "blanks.yaml").write_text(SCHEMES, encoding="utf-8")
    rulebook = load_rulebook(shipped=tmp_path)
    assert rulebook.rules == ()
    assert [*rulebook.schemes] == ["five-times"]
    assert shipped_headings(tmp_path) == ()


def test_an_empty_list_of_rules_is_refused_all_the_same(tmp_path: Path) -> None:
    (tmp_path / "blanks.yaml").write_text(SCHEMES + "rules: []\n", encoding="utf-8")
    with pytest.raises(RulebookError, match="'rules' holds no rule"):
        load_rulebook(shipped=tmp_path)
