"""YAML as written, with places."""

from __future__ import annotations

from vaporqa.tables.yaml_nodes import Entries, Items, Scalar, read_document


def test_scalars_stay_text_and_know_their_place():
    document = read_document(b"a: 12:30\nb: [no, 010]\nc: 1e-3\nd: 'x'\n", "any.yaml")
    root = document.root
    assert isinstance(root, Entries)
    assert root.get("a") == Scalar("12:30", 1, 4)
    items = root.get("b")
    assert isinstance(items, Items)
    assert [item.text for item in items if isinstance(item, Scalar)] == ["no", "010"]
    assert root.get("c") == Scalar("1e-3", 3, 4)
    assert root.get("d") == Scalar("x", 4, 4, quoted=True)
    assert root.keys["b"] == Scalar("b", 2, 1)
    assert document.problems == ()


def test_columns_count_characters_not_bytes():
    root = read_document("é: ü\n".encode(), "any.yaml").root
    assert isinstance(root, Entries)
    assert root.get("é") == Scalar("ü", 1, 4)


def test_what_is_refused_says_where():
    cases = {
        b"a: *x\n": (1, 4, "an alias"),
        b"a: &x 1\n": (1, 4, "an anchor"),
        b"a: !t 1\n": (1, 4, "a tag"),
        b"a: 1\nb: 2\na: 3\n": (3, 1, "the key 'a' stands here a second time"),
        b"? [a]\n: 1\n": (1, 3, "a key must be a text"),
        b"a: \xff\n": (1, 4, "not UTF-8"),
        b"a: 'x\n": (2, 1, "not valid YAML"),
    }
    for data, (line, column, words) in cases.items():
        [problem] = read_document(data, "any.yaml").problems
        assert (problem.line, problem.column) == (line, column), data
        assert words in problem.message


def test_size_and_depth_are_bounded():
    [large] = read_document(b"#" * 1_000_001, "any.yaml").problems
    assert "1,000,001 bytes" in large.message
    [deep] = read_document(b"a: " + b"[" * 100_000 + b"]" * 100_000, "any.yaml").problems
    assert "nesting depth" in deep.message  # libyaml's own bound comes first here
    assert deep.excerpt == ""
    [nested] = read_document(b"a: " + b"[" * 40 + b"]" * 40, "any.yaml").problems
    assert "nested deeper than 40 levels" in nested.message
    assert read_document(b"a: " + b"[" * 38 + b"]" * 38, "any.yaml").problems == ()


def test_an_empty_document_has_no_root():
    assert read_document(b"# nothing\n", "any.yaml").root is None
