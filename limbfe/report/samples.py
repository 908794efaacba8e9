"""What `limbfe sample` can write, as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.text import Text

from limbfe.report.tables import plain_table

if TYPE_CHECKING:
    from limbfe.case.samples import Sample


def samples_table(samples: Mapping[str, Sample]) -> RenderableType:
    """Return one line for every sample, and how to write one."""
    table = plain_table("Files to start from")
    table.add_column("name", no_wrap=True)
    table.add_column("what it is")
    for sample in samples.values():
        table.add_row(sample.name, f"{sample.title}: {sample.question}")
    return Group(table, Text("limbfe sample from_a_tape mine.toml writes one as mine.toml."))
