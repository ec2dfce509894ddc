"""The line of every key: against texts whose lines are known because the test wrote them."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpull.plan.locate import line_at, line_of_syntax_error, lines_of

TEXT = '''# a comment with [brackets] and "quotes"
title = "x" # and = here
[a]
one = 1
b.c = """
line [[no]]
x = 1
"""
"quoted key" = 'a # b'
list = [
  1,  # first
  [2,
   3],
  "]",
]
inline = { x = 1, y = { z = "}" }, "odd key" = [1, 2] }
day = 2026-09-01T07:32:00Z

[[t]]
n = 1
[[t]]
n = 2
[t.sub]
deep = \'\'\'
raw " text\'\'\'
[[t.items]]
k = 1.5e3
[[t.items]]
k = -inf
[last."dotted.key"]
v = true
'''
EXPECTED = {
    ("title",): 2, ("a",): 3, ("a", "one"): 4, ("a", "b"): 5, ("a", "b", "c"): 5, ("a", "quoted key"): 9,
    ("a", "list"): 10, ("a", "list", 0): 11, ("a", "list", 1): 12, ("a", "list", 1, 1): 13, ("a", "list", 2): 14,
    ("a", "inline"): 16, ("a", "inline", "x"): 16, ("a", "inline", "y", "z"): 16, ("a", "inline", "odd key", 1): 16,
    ("a", "day"): 17, ("t",): 19, ("t", 0): 19, ("t", 0, "n"): 20, ("t", 1): 21, ("t", 1, "n"): 22, ("t", 1, "sub"): 23,
    ("t", 1, "sub", "deep"): 24, ("t", 1, "items", 0, "k"): 27, ("t", 1, "items", 1): 28, ("t", 1, "items", 1, "k"): 29,
    ("last", "dotted.key"): 30, ("last", "dotted.key", "v"): 31,
}


def test_lines_of_a_text_with_everything_in_it() -> None:
    tomllib.loads(TEXT)
    places = lines_of(TEXT)
    assert {path: places.get(path) for path in EXPECTED} == EXPECTED


KEY = st.from_regex(r"[a-z]{1,6}", fullmatch=True)
VALUE = st.one_of(
    st.integers(-999, 999).map(str),
    st.text("ab #[]{}=,.'", max_size=12).map(lambda text: f'"{text}"'),
    st.text('ab #[]{}=,."', max_size=12).map(lambda text: f"'{text}'"),
    st.sampled_from(["true", "1.5", "nan", "2026-01-02", "07:32:00", '"\\"]\\\\"', '""', "[]", "{}"]),
    st.text('a\n #[]=,"', max_size=10).map(lambda text: '"""\n' + text.replace('"""', "") + 'x"""'),
    st.lists(st.sampled_from(["1", '"]"', "[ 2,\n 3 ]"]), min_size=1, max_size=4).map(
        lambda items: "[\n" + ",\n  # a ] comment\n".join(items) + ",\n]"
    ),
    st.just("{ x = 1, y = ['}', \"{\"] }"),
)


@given(st.lists(st.tuples(KEY, st.booleans(), st.lists(st.tuples(KEY, VALUE), max_size=4, unique_by=lambda p: p[0])),
                max_size=5))
def test_lines_of_written_texts(tables: list[tuple[str, bool, list[tuple[str, str]]]]) -> None:
    lines: list[str] = []
    expected: dict[tuple[str | int, ...], int] = {}
    kinds: dict[str, bool] = {}
    counts: dict[str, int] = {}
    for name, repeated, pairs in tables:
        if name in kinds and not (kinds[name] and repeated):
            continue  # TOML does not let a table be written twice
        kinds[name] = repeated
        path: tuple[str | int, ...] = (name, counts.get(name, 0)) if repeated else (name,)
        counts[name] = counts.get(name, 0) + 1
        lines.append(f"[[{name}]]" if repeated else f"[ {name} ] # table")
        expected[path] = len(lines)
        for key, value in pairs:
            expected[(*path, key)] = len(lines) + 1
            lines += f"{key} = {value}".split("\n")
        lines.append("")
    text = "\n".join(lines)
    tomllib.loads(text)
    places = lines_of(text)
    assert {where: places.get(where) for where in expected} == expected


def test_line_of_what_is_missing_is_that_of_its_table() -> None:
    places = lines_of("[a]\nx = 1\n")
    assert line_at(places, ("a", "y")) == 1
    assert line_at(places, ("b", "y")) is None


@pytest.mark.parametrize(("text", "line"), [
    ("a = 1\nb = \n", 2), ("a = 1\n[x\n", 2), ('a = "x\n', 1), ('a = """x\n', 1),
])
def test_line_of_a_syntax_error(text: str, line: int) -> None:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    assert line_of_syntax_error(text, str(caught.value)) == line
