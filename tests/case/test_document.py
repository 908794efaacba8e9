"""Files that are not a readable TOML document at all."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from limbfe.case.document import DEEPEST, LARGEST_FILE
from limbfe.case.load import read_case
from limbfe.errors import CaseError

Refusal = Callable[[str | bytes], str]

BYTES: dict[str, tuple[bytes, tuple[str, ...]]] = {
    "empty": (b"", ("is empty", "shipped files")),
    "only blanks": (b" \n\t\n", ("is empty",)),
    "binary": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", ("binary file",)),
    "UTF-16": ('title = "x"'.encode("utf-16"), ("UTF-16", "save it as UTF-8")),
    "Latin-1": ('title = "x"\n# Länge\n'.encode("latin-1"), ("line 2", "0xe4", "UTF-8")),
    "huge": (b"#" * (LARGEST_FILE + 1), ("larger than 256 kB",)),
}


@pytest.mark.parametrize("name", BYTES)
def test_bytes_that_are_no_case(name: str, refusal: Refusal) -> None:
    content, expected = BYTES[name]
    message = refusal(content)
    assert "\n" not in message
    for words in ("stave.toml: ", *expected):
        assert words in message


LINES: dict[str, tuple[str, tuple[str, ...]]] = {
    "value without quotes": (
        "length = 28 in",
        ("line 1: length = 28 in: ", 'write length = "28 in"'),
    ),
    "value without quotes before a remark": (
        "at = 31.5 mm   # by eye",
        ('write at = "31.5 mm"',),
    ),
    "text without quotes": ("state = live", ('write state = "live"',)),
    "decimal comma": ("steps = 3,5", ("decimal comma",)),
    "typographic quotes": ("title = \u201cElm\u201d", ("straight",)),
    "key twice": ("steps = 3\nsteps = 4", ("line 2", "twice")),
    "table twice": ("[draw]\n[grip]\n[draw]", ("line 3", "twice")),
    "colon": ("steps: 3", ("followed by =",)),
    "open bracket": ("station = [0, 1,\n", ("at the end, line 1", "not closed")),
    "open quote": ('title = "Elm', ("not readable as TOML",)),
    "stray words": ("this is no case", ("line 1: this is no case",)),
    "control character": ('title = "a\x01b"', ("line 1", "not readable")),
    "number of ten thousand digits": (
        "steps = " + "9" * 10000,
        ("number of too many digits", "shorten it"),
    ),
    "carriage returns only": ('title = "a"\rsteps = 3', ("line 1",)),
}


@pytest.mark.parametrize("name", LINES)
def test_text_that_is_not_toml(name: str, refusal: Refusal) -> None:
    text, expected = LINES[name]
    message = refusal(text)
    assert "\n" not in message
    assert len(message) < 600
    for words in ("stave.toml: ", *expected):
        assert words in message


@pytest.mark.parametrize(
    "text",
    [
        "title = " + "[" * 100_000,
        "title = " + "[" * 5000 + "]" * 5000,
        "title = " + "{a = " * 5000 + "1" + "}" * 5000,
        ".".join("a" * 20_000) + " = 1",
        "[" + ".".join("a" * 20_000) + "]",
        "\n".join("[" + ".".join("a" * 12) + f".b{k}]" for k in range(2000)),
        'a."b".' * 3000 + "c = 1",
    ],
    ids=["open", "lists", "inline tables", "dotted key", "dotted table", "many", "quoted parts"],
)
def test_nesting_is_refused_before_it_hurts(text: str, refusal: Refusal) -> None:
    assert f"more than {DEEPEST} tables or lists" in refusal(text)


@pytest.mark.parametrize(
    "text",
    [
        "a" * 250_000,
        'a = "' + '\\"' * 120_000,
        'a = """' + '""x' * 80_000,
        "a = '''" + "''x" * 80_000,
        "a = " + "1 " * 120_000,
        "a = " + "1.1" * 80_000 + "mm",
        "a = [" + "1," * 120_000 + "]",
        "\n".join(f"k{n} = {n}" for n in range(6_000)),
        "\n".join("[[knot]]" for _ in range(10_000)),
        "a = 1" + "#" * 250_000,
        "a " * 120_000,
        "a." * 7 + " " * 240_000,
    ],
    ids=lambda text: repr(text[:12]),
)
def test_no_text_takes_long(text: str, refusal: Refusal) -> None:
    start = time.process_time()
    refusal(text)
    assert time.process_time() - start < 8.0


def test_brackets_inside_strings_are_not_nesting(
    complete: str, read: Callable[[str], object]
) -> None:
    read(complete.replace("every key given", "[[[[[[[[[[ {{{{{{{{{{ a.b.c.d.e.f.g.h.i.j.k", 1))


def test_a_byte_order_mark_is_accepted(complete: str, read: Callable[[bytes], object]) -> None:
    read(b"\xef\xbb\xbf" + complete.encode())


def test_windows_line_ends_are_accepted(complete: str, read: Callable[[bytes], object]) -> None:
    read(complete.replace("\n", "\r\n").encode())


def test_a_missing_file_names_its_neighbour(tmp_path: Path) -> None:
    (tmp_path / "elm_longbow.toml").write_text("x")
    with pytest.raises(CaseError, match=r'elm_lonbow\.toml: no such file; did you mean "elm_long'):
        read_case(tmp_path / "elm_lonbow.toml")


@pytest.mark.skipif(sys.platform == "win32", reason="no such names")
@pytest.mark.parametrize("name", ["\x1b[31mred.toml", "two\nlines.toml", "old\udcff.toml"])
def test_a_name_that_would_steer_a_terminal_is_refused(name: str, tmp_path: Path) -> None:
    """It would stand in tables, pictures and names of folders."""
    (tmp_path / name).write_text("x = 1")
    with pytest.raises(CaseError, match="holds signs that cannot be shown; rename it"):
        read_case(tmp_path / name)


def test_a_link_in_a_circle_is_named(tmp_path: Path) -> None:
    (tmp_path / "elm.toml").symlink_to(tmp_path / "elm.toml")
    with pytest.raises(
        CaseError, match=r"elm\.toml: no such file; it is a link that leads nowhere"
    ):
        read_case(tmp_path / "elm.toml")


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="there is no folder"):
        read_case(tmp_path / "nowhere" / "elm.toml")


def test_a_folder_is_no_case(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="is not a file"):
        read_case(tmp_path)


def test_a_name_that_cannot_be_a_path() -> None:
    with pytest.raises(CaseError, match=r"no such file|cannot be read"):
        read_case("stave\0.toml")


@pytest.mark.skipif(sys.platform == "win32", reason="no named pipes")
def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "stave.toml")
    with pytest.raises(CaseError, match="is not a file"):
        read_case(tmp_path / "stave.toml")
