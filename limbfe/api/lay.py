"""Before the bow: where it lies in a stave."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from limbfe.api.given import File, worker_count

if TYPE_CHECKING:
    from limbfe.case.sheet_schema import Sheet
    from limbfe.studies.lay.results import LaidOut
    from limbfe.units import Words


def read_sheet(path: File) -> Sheet:
    """Read and check a stave sheet.

    Examples
    --------
    >>> read_sheet("cases/staves/elm_pole.toml").title
    'Elm pole, course stave 14'
    """
    from limbfe.case.sheet_load import read_sheet as read

    return read(path)


def lay(
    sheet: Sheet | File,
    *,
    fix: Iterable[str] = (),
    near: File | None = None,
    quick: bool = False,
    workers: int | None = 1,
    cluster: str | None = None,
    tell: Callable[[Words | LaidOut], None] = lambda said: None,
) -> LaidOut:
    """Find where the wanted bow lies in a stave: which end up, the cuts, the centre line.

    Parameters
    ----------
    sheet : Sheet or path
        A stave sheet.
    fix : iterable of str
        What is settled: ``"upper_end=top"``, ``"cut_butt=90 mm"``, ``"cut_top=60 mm"``,
        ``"through=840 mm, 5 mm"`` (from the butt, to the right of the snapped line), which may
        come more than once.
    near : path, optional
        ``lines.csv`` of a layout that is drawn already: the new line leaves it as little as it
        must.
    quick : bool
        The first look only, nothing assessed.
    workers : int, optional
        Processes; None for one a core.
    cluster : str, optional
        Address of a dask scheduler whose workers compute instead, such as "tcp://node1:8786".
    tell : callable, optional
        Told in words what is being done, and given the first look when there is one.

    Returns
    -------
    LaidOut
        `layouts`, the best first; `best.case_text` is a complete case.

    Raises
    ------
    CaseError
        If the sheet is wrong or no line fits.

    Examples
    --------
    >>> found = lay("cases/staves/clear_half_log.toml", quick=True)
    >>> line = found.best.line
    >>> bool(abs(line.offset).max() < 1e-4), [round(1e3 * nock) for nock in line.nocks]
    (True, [70, 1850])
    """
    from limbfe.case.sheet_fix import with_fixes
    from limbfe.case.sheet_load import read_sheet as read
    from limbfe.case.sheet_schema import Sheet
    from limbfe.studies.lay.files import read_line
    from limbfe.studies.lay.lay import lay_bow
    from limbfe.studies.tasks.cluster import cluster_executor

    given = sheet if isinstance(sheet, Sheet) else read(sheet)
    settled, line = with_fixes(given, tuple(fix)), None if near is None else read_line(near)
    count = worker_count(workers)
    with cluster_executor(cluster) as executor:
        return lay_bow(
            settled,
            quick=quick,
            drawn=line,
            workers=count,
            executor=executor,
            tell=tell,
            seen=tell,
        )
