"""The locator: every key of a TOML document, on the line where it stands."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.config.tomlfile import TomlFault, key_lines, read_toml

NAMES = st.sampled_from(["a", "b-1", '"c d"', "'e.f'", '"é"', "limits", '"]"', '"#"'])
# Values that try to look like something else: headers, keys, ends of strings, other newlines.
VALUES = st.sampled_from(
    [
        "1",
        '"[x] # = \\""',
        "'''\n[a]\nb = 1\n'''",
        '"""\n\\"""\n[[tree]]\n"""',
        "[\n  1, # ]\n  2,\n\n]",
        '[{ x = 1 },\n { y = "[" }]',
        "{ x = 1, y.z = [1, 2] }",
        "[\n[\n]\n]",
        '"\u2028\u0085"',
        "2027-04-20",
    ]
)
FILLER = st.sampled_from(["", "# [no] = '''", "   "])
HEADERS = st.sampled_from(["[{}]", "[[{}]]", "[ {} ] # [x]", "[[ {} ]]", "[{}.sub]", "[[{}.more]]"])


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, list[int]]:
    """A valid document, and the line of each of its statements."""
    lines, starts = [], []
    for block in range(draw(st.integers(0, 4))):
        if block:
            lines.append(draw(FILLER))
            starts.append(len(lines) + 1)
            lines.append(draw(HEADERS).format(draw(NAMES)))
        for name in draw(st.lists(NAMES, max_size=4, unique=True)):
            lines.append(draw(FILLER))
            starts.append(len(lines) + 1)
            lines += f"{name} = {draw(VALUES)} # end".split("\n")
    return draw(st.sampled_from(["\n", "\r\n"])).join(lines), starts


def paths(value: object, key: tuple = ()) -> set[tuple]:
    inside = value.items() if isinstance(value, dict) else enumerate(value)
    found = set()
    for name, below in inside:
        found.add((*key, name))
        if isinstance(below, dict | list):
            found |= paths(below, (*key, name))
    return found


@given(documents())
def test_every_key_the_parser_knows_has_the_line_it_was_written_on(document):
    text, starts = document
    try:
        held = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(tomllib.TOMLDecodeError):  # a table opened twice
            key_lines(text)
        return
    lines = key_lines(text)
    # Outside check: tomllib's own reading of the same text has the same keys.
    assert set(lines) == paths(held)
    # Each statement brings a key of its own, except a header of a table that is there already.
    written = text.replace("\r\n", "\n").split("\n")
    headers = {n for n in starts if written[n - 1].startswith("[")}
    assert set(starts) - headers <= set(lines.values()) <= set(starts)


def test_tables_in_lists_belong_to_the_last_one():
    text = (
        '[[tree]]\nname = "A"\n[tree.limits]\ngust_ms = 9\n\n[[tree]]\n[tree.limits]\ngust_ms = 8'
    )
    assert key_lines(text) == {
        ("tree",): 1,
        ("tree", 0): 1,
        ("tree", 0, "name"): 2,
        ("tree", 0, "limits"): 3,
        ("tree", 0, "limits", "gust_ms"): 4,
        ("tree", 1): 6,
        ("tree", 1, "limits"): 7,
        ("tree", 1, "limits", "gust_ms"): 8,
    }


def test_a_list_over_several_lines_stands_where_its_key_does():
    lines = key_lines('x = [\n  "]",\n  { y = 1 },\n]\nz = 2\n')
    assert (lines["x",], lines["x", 1, "y"], lines["z",]) == (1, 1, 5)


def test_a_byte_order_mark_is_no_part_of_the_file(tmp_path: Path):
    file = tmp_path / "garden.toml"
    file.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    assert read_toml(file) == ({"a": 1, "b": 2}, {("a",): 1, ("b",): 2})


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"a = 1\nb = \n", ":2: b: a value is missing behind the ="),
        (b"a = 1\nb = '''\n\n", ":4: not TOML: "),
        (b"a = 1\na = 2\n", ":2: a stands twice in this section"),
        (b"a = 1\nb = [1}\n", ":2: not TOML: "),
        (b"a = 1\nb = 'Ros\xe9'\n", ":2: byte 0xe9 is not UTF-8"),
    ],
)
def test_a_file_that_is_not_toml_is_named_with_the_line(tmp_path: Path, raw: bytes, said: str):
    file = tmp_path / "garden.toml"
    file.write_bytes(raw)
    with pytest.raises(TomlFault) as fault:
        read_toml(file)
    assert str(fault.value).startswith(f"{file}{said}")


def test_a_file_that_is_not_there(tmp_path: Path):
    with pytest.raises(TomlFault, match="no such file"):
        read_toml(tmp_path / "none.toml")
    with pytest.raises(TomlFault, match="cannot be read"):
        read_toml(tmp_path)
