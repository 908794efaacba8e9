"""From the bytes of a file to a TOML document, or one message why not."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from limbfe.case.messages import nearest, shorten
from limbfe.errors import CaseError, Fault

LARGEST_FILE = 256 * 1024
"""Bytes; a case of a hundred stations and knots takes a tenth of it."""

DEEPEST = 8
"""Brackets inside one another, or parts of a dotted key; a case needs four."""


def read_bytes(path: Path, file: str) -> bytes:
    """Return the content of a file of reasonable size, called `file` in messages.

    Raises
    ------
    CaseError
        If it is not a file, cannot be read, is empty or too large.
    """
    try:
        if not path.exists():
            raise CaseError(f"{file}: no such file{_neighbour(path)}")
        if not path.name.isprintable():
            raise CaseError(f"{file}: its name holds signs that cannot be shown; rename it")
        if not path.is_file():
            raise CaseError(f"{file}: is not a file; give the name of a file")
        with path.open("rb") as stream:
            content = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise CaseError(f"{file}: cannot be read: {reason}; check its name and rights") from None
    if len(content) > LARGEST_FILE:
        raise CaseError(
            f"{file}: is larger than {LARGEST_FILE // 1024} kB; a case or a table is a few kB of "
            "text: is this the right file?"
        )
    if not content.strip():
        raise CaseError(
            f"{file}: is empty; start from one of the shipped files and change its numbers"
        )
    return content


def decode(content: bytes, file: str) -> str:
    """Return the text of a UTF-8 file.

    Raises
    ------
    CaseError
        If the bytes are not text in UTF-8.
    """
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise CaseError(f"{file}: is written in UTF-16; save it as UTF-8")
    if b"\0" in content:
        raise CaseError(f"{file}: is a binary file, not text; is this the right file?")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise CaseError(
            f"{file}: line {line}: byte 0x{content[error.start]:02x} is not UTF-8; save the file "
            "with the encoding UTF-8"
        ) from None


def parse_document(text: str, file: str) -> dict[str, Any]:
    """Return the TOML document in `text`.

    Raises
    ------
    CaseError
        If it is not TOML, or nested so deeply that no case can be meant.
    """
    _check_depth(text, file)
    try:
        return tomllib.loads(text)
    except ValueError as error:
        raise _explain_toml(str(error), text, file) from None


# Possessive and with optional ends, so that no text makes them go over it twice.
_STRINGS = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""|\Z)|'
    r"'''.*?(?:'''|\Z)|"
    r'"(?:\\.|[^"\\\n])*+"?|'
    r"'[^'\n]*+'?|#[^\n]*+",
    re.DOTALL,
)
_DOTTED = re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{DEEPEST},}}+")


def _check_depth(text: str, file: str) -> None:
    """Refuse nesting that would exhaust the parser's stack or its time."""
    bare = _STRINGS.sub("x", text)
    depth = 0
    for match in re.finditer(r"[\[\]{}\n]", bare):
        sign = match.group()
        if sign == "\n":
            continue
        depth = depth + 1 if sign in "[{" else max(depth - 1, 0)
        if depth > DEEPEST:
            break
    found = _DOTTED.search(bare)
    if depth > DEEPEST or found:
        at = found.start() if found else match.start()
        line = bare.count("\n", 0, at) + 1
        words = (
            f"more than {DEEPEST} tables or lists inside one another; "
            "a case needs four: is a closing bracket missing?"
        )
        fault = Fault(words=words, line=line)
        raise CaseError(f"{file}: about line {line}: {words}", faults=(fault,))


def _neighbour(path: Path) -> str:
    if not path.parent.is_dir():
        return f': there is no folder "{path.parent}"'
    if path.is_symlink():
        return "; it is a link that leads nowhere"
    close = nearest(path.name, [p.name for p in path.parent.glob("*.toml")])
    return f'; did you mean "{close}"?' if close else "; check the name and the folder"


_REPEATED = re.compile("overwrite|declare|mutate|redefine|immutable")


def _explain_toml(reason: str, text: str, file: str) -> CaseError:
    """Return what is wrong with the line at which the parser stopped."""
    where = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)", reason)
    if where is None:
        words = f"holds a number of too many digits ({reason[:60]}); shorten it"
        return CaseError(f"{file}: {words}", faults=(Fault(words=words),))
    said = reason[:1].lower() + reason[1 : min(where.start(), 160)]
    lines = text.rstrip().split("\n")
    number = min(int(where[1] or len(lines)), len(lines))
    line = lines[number - 1].strip()
    if where[1] is None and not _REPEATED.search(said):
        words = f"not readable as TOML ({said}); a bracket or a quote is not closed"
        fault = Fault(words=words, line=number)
        return CaseError(f"{file}: at the end, line {number}: {words}", faults=(fault,))
    words = _remedy(line[:200], said, where[2] == "1")
    fault = Fault(words=words, line=number)
    return CaseError(f"{file}: line {number}: {shorten(line)}: {words}", faults=(fault,))


_UNIT_WITHOUT_QUOTES = re.compile(
    r"(?P<key>[\w.-]+)\s*=\s*(?P<value>[-+]?[\d./ ]*\d\s*[A-Za-z%°\"'][^#,]*?)\s*(?:#.*)?"
)


_FRACTION_WITHOUT_QUOTES = re.compile(
    r"(?P<key>[\w.-]+)\s*=\s*(?P<value>(?:\d+[ -])?\d+\s*/\s*\d+)\s*(?:#.*)?"
)


def _remedy(line: str, said: str, begins: bool) -> str:
    fraction = _FRACTION_WITHOUT_QUOTES.fullmatch(line)
    if fraction:
        return f'a fraction stands in quotes; write {fraction["key"]} = "{fraction["value"]} in"'
    bare = _UNIT_WITHOUT_QUOTES.fullmatch(line)
    if bare and '"' not in bare["value"]:
        return f'a value with a unit stands in quotes; write {bare["key"]} = "{bare["value"]}"'
    if re.search("[\u201c\u201d\u201e\u2018\u2019]", line):
        return "has typographic quotes; retype them as straight ones"
    if re.fullmatch(r"[\w.-]+\s*=\s*[-+]?\d+,\d+\s*(?:#.*)?", line):
        return "has a decimal comma; write a decimal point"
    word = re.fullmatch(r"(?P<key>[\w.-]+)\s*=\s*(?P<value>[A-Za-z][\w ]*?)\s*(?:#.*)?", line)
    if word:
        return f'text stands in quotes; write {word["key"]} = "{word["value"]}"'
    if said == "unclosed array":
        if begins and re.match(r"\[|[\w.-]+\s*=", line):
            return "the list above this line is not closed; add its bracket ]"
        return "a comma is missing between two values of this list"
    if _REPEATED.search(said):
        return f"this key or table stands twice in the file; keep one ({said})"
    if re.fullmatch(r"[\w.-]+\s*:\s*.*", line):
        return "a key is followed by =, not by a colon"
    return f"not readable as TOML: {said}"
