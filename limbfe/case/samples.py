"""Worked case and stave files that come with the package, to start from."""

from __future__ import annotations

import importlib.metadata
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from limbfe.case.messages import nearest
from limbfe.errors import CaseError
from limbfe.whole_file import whole_file

ABOVE = "../"
"""How a stave names a case of the folder above; what is written lies in one folder."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A file to start from.

    Attributes
    ----------
    name : str
        The file's name without its ending.
    path : Path
    title, question : str
        As the file has them.
    beside : dict of str to Path
        Files that it reads, by the name each is to have beside it.
    """

    name: str
    path: Path
    title: str
    question: str
    beside: dict[str, Path]


@cache
def find_samples() -> dict[str, Sample]:
    """Return every sample by name: cases, then staves.

    Raises
    ------
    CaseError
        If they were left out when the package was installed.
    """
    folder = _folder()
    found = {}
    for path in (*sorted(folder.glob("*.toml")), *sorted((folder / "staves").glob("*.toml"))):
        text = tomllib.loads(path.read_text(encoding="utf-8"))
        beside = {Path(name).name: path.parent / name for name in _files(text)}
        found[path.stem] = Sample(path.stem, path, text["title"], text["question"], beside)
    return found


def write_sample(name: str, to: Path | None = None) -> tuple[Path, ...]:
    """Write one and the files it reads; return what was written.

    Parameters
    ----------
    name : str
    to : Path, optional
        The file to write; one of the sample's name in the current folder when left out.  What
        it reads comes beside it under its own name.

    Raises
    ------
    CaseError
        If there is no such sample, or a file of that name already.
    LimbfeError
        If nothing can be written there.
    """
    known = find_samples()
    asked = name.removesuffix(".toml")
    if asked not in known:
        near = nearest(asked, known)
        hint = f'did you mean "{near}"?' if near else f"there are {', '.join(known)}"
        raise CaseError(f'sample "{name}": there is none of that name; {hint}')
    sample = known[asked]
    target = to or Path(sample.path.name)
    if target.suffix != ".toml":
        raise CaseError(f'sample: "{target}" does not end in .toml; name the file so')
    text = sample.path.read_text(encoding="utf-8").replace(f'"{ABOVE}', '"')
    places = {target: text.encode()}
    places |= {target.parent / name: path.read_bytes() for name, path in sample.beside.items()}
    for place in places:
        if place.exists():
            raise CaseError(f'sample: there is "{place}" already; give another name or folder')
    for place, content in reversed(places.items()):  # the file itself last, when all is there
        with whole_file(place) as partial:
            partial.write_bytes(content)
    return tuple(places)


def _files(value: object) -> list[str]:
    """Return the files that a case or stave names."""
    if isinstance(value, dict):
        return [name for part in value.values() for name in _files(part)]
    is_file = isinstance(value, str) and value.endswith((".csv", ".toml")) and " " not in value
    return [str(value)] if is_file else []


def _folder() -> Path:
    """Return where the samples lie: in a clone, or where pip put them."""
    clone = Path(__file__).resolve().parents[2]
    if (clone / "pyproject.toml").is_file():
        return clone / "cases"
    for file in importlib.metadata.files("limbfe") or ():
        if file.match("limbfe/cases/elm_longbow.toml"):
            return Path(str(file.locate())).resolve().parent
    raise CaseError("the sample cases were not installed with limbfe; install it again with pip")
