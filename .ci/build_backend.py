"""Setuptools, with a source archive that holds all that a clone does.

Setuptools takes the list of other files from a MANIFEST.in only; it stands here, and in the folder
as long as the archive is made.
"""

from pathlib import Path

from setuptools import build_meta
from setuptools.build_meta import *  # noqa: F403

MANIFEST = """\
include DEVELOPERS.md .gitignore
graft cases
graft tests
graft benchmarks
graft .ci
global-exclude *.py[cod] *.nbi *.nbc
prune **/__pycache__
"""


def build_sdist(folder, settings=None):
    """Write the source archive."""
    manifest = Path("MANIFEST.in")
    manifest.write_text(MANIFEST, encoding="utf-8")
    try:
        return build_meta.build_sdist(folder, settings)
    finally:
        manifest.unlink()
