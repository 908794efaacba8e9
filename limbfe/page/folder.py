"""The folder the page was started in: what is read from it, and what is written into it.

No name leads out of it: a file is asked for by its bare name, and one that is a link is left alone.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from limbfe.case.document import LARGEST_FILE, decode, read_bytes
from limbfe.errors import CaseError, LimbfeError
from limbfe.whole_file import whole_file

ENDING = ".toml"
LONGEST_NAME = 100
MOST_LISTED = 300
MOST_LOOKED_AT = 1000
DRAFT = ".sheet-draft.json"
"""How the names of drafts end; they begin with a dot, and lie beside the case they are of."""
UNNAMED = "new bow"
"""What a bow is called that has no file yet."""


@dataclass(frozen=True, slots=True)
class Draft:
    """Changes that were not saved.

    Attributes
    ----------
    text : str
        The whole case.
    base : str or None
        Digest of the file it was made from; None for one that has no file yet.
    """

    text: str
    base: str | None


def digest_of(content: bytes) -> str:
    """Return what tells two versions of a file apart."""
    return hashlib.sha256(content).hexdigest()


def checked_name(name: Any, ending: str = ENDING) -> str:
    """Return the bare name of a file with its ending, that of a case if not said otherwise.

    Raises
    ------
    CaseError
        If it is none, or would lead out of the folder.
    """
    if not isinstance(name, str) or not name.strip() or not name.isprintable():
        raise CaseError("the file needs a name of one line, such as my_bow.toml")
    word = name.strip()
    if "/" in word or "\\" in word or ":" in word or word.startswith("."):
        raise CaseError(
            f'"{word[:60]}": must be the bare name of a file in the folder of this page, not '
            "beginning with a dot"
        )
    if len(word) > LONGEST_NAME:
        raise CaseError(f"the file's name is too long; use at most {LONGEST_NAME} letters")
    return word if word.endswith(ending) else f"{word}{ending}"


@dataclass(frozen=True, slots=True)
class Folder:
    """One folder of cases.

    Attributes
    ----------
    path : Path
        Absolute, links followed.
    also : frozenset of Path
        Bows elsewhere that may be read: those the stave on the command line named at the start.
    """

    path: Path
    also: frozenset[Path] = frozenset()

    def may_read(self, name: str) -> bool:
        """Return whether a bow that a stave names lies in the folder, or was allowed at the start.

        A name that leads nowhere is let through: the reader says what is wrong with it.
        """
        try:
            place = (self.path / name).resolve()
            inside = place.is_relative_to(self.path) or place in self.also
            return inside or not place.exists()
        except (OSError, RuntimeError, ValueError):
            return True

    def place(self, name: str, ending: str = ENDING) -> Path:
        """Return the path of a file by its bare name.

        Raises
        ------
        CaseError
            If it would lead out of the folder.
        """
        place = self.path / checked_name(name, ending)
        if place.is_symlink() or place.resolve().parent != self.path:
            raise CaseError(f'"{place.name}": leads out of this folder; copy the file itself here')
        return place

    def cases(self) -> list[dict[str, str]]:
        """Return name, title and kind of every case and stave here, other files left out."""
        found = []
        for place in sorted(self.path.glob(f"*{ENDING}"))[:MOST_LOOKED_AT]:
            if place.name.startswith(".") or place.is_symlink() or not place.is_file():
                continue
            title = _title(place)
            if title is not None:
                found.append({"name": place.name, "title": title[0], "kind": title[1]})
            if len(found) == MOST_LISTED:
                break
        return found

    def read(self, name: str, ending: str = ENDING) -> tuple[str, str]:
        """Return the text of a file and its digest.

        Raises
        ------
        CaseError
            If there is no such file, or it is no text of a case's size.
        """
        content = read_bytes(self.place(name, ending), name)
        return decode(content, name), digest_of(content)

    def digest(self, name: str, ending: str = ENDING) -> str | None:
        """Return the digest of a file as it is on the disk now; None where there is none."""
        place = self.place(name, ending)
        if not place.exists():
            return None
        with place.open("rb") as stream:
            return digest_of(stream.read(LARGEST_FILE + 1))

    def write(self, name: str, text: str, ending: str = ENDING) -> str:
        """Write a file whole or not at all, and return its digest.

        Raises
        ------
        LimbfeError
            If it cannot be written.
        """
        content = text.encode()
        if len(content) > LARGEST_FILE:
            raise CaseError(f"a case is at most {LARGEST_FILE // 1024} kB; shorten it")
        with whole_file(self.place(name, ending)) as partial:
            partial.write_bytes(content)
        return digest_of(content)

    def _draft(self, name: str | None) -> Path:
        return self.path / f".{UNNAMED if name is None else checked_name(name)}{DRAFT}"

    def keep_draft(self, name: str | None, draft: Draft) -> None:
        """Keep what is not saved yet.

        Raises
        ------
        LimbfeError
            If it cannot be written.
        """
        with whole_file(self._draft(name)) as partial:
            said = json.dumps({"text": draft.text, "base": draft.base})
            partial.write_text(said, encoding="utf-8")

    def draft(self, name: str | None) -> Draft | None:
        """Return what was not saved, None where there is nothing of the kind."""
        place = self._draft(name)
        if place.is_symlink() or not place.is_file():
            return None
        try:
            found = json.loads(read_bytes(place, place.name))
            text, base = found["text"], found["base"]
        except (LimbfeError, ValueError, KeyError, TypeError):
            return None
        whole = isinstance(text, str) and (base is None or isinstance(base, str))
        return Draft(text, base) if whole else None

    def drop_draft(self, name: str | None) -> None:
        """Forget what was not saved."""
        self._draft(name).unlink(missing_ok=True)


def _title(place: Path) -> tuple[str, str] | None:
    """Return title and kind of a case or stave; None for any other file."""
    try:
        text = decode(read_bytes(place, place.name), place.name)
    except CaseError:
        return None
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError):
        return "not readable as it is", "bow"
    if not ({"limb", "taper", "stave"} & document.keys()):
        return None
    title = document.get("title")
    kind = "stave" if "stave" in document else "bow"
    return title[:200] if isinstance(title, str) and title.isprintable() else place.stem, kind
