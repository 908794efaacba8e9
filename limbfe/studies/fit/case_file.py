"""Write a case with the wood that a fit found."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tomlkit

from limbfe.analysis.store import whole_file
from limbfe.case.document import decode, read_bytes
from limbfe.case.load import read_case
from limbfe.case.schema import Case
from limbfe.errors import CaseError
from limbfe.studies.case_file import check_target
from limbfe.studies.fit.results import Fit
from limbfe.wood.wood import Wood


def check_fitted(case: Case, path: Path) -> None:
    """Refuse a name under which the fitted case cannot be written or would not be read.

    Raises
    ------
    CaseError
    """
    check_target(case, path)
    limbs = (case.file.limb.both, case.file.limb.upper, case.file.limb.lower)
    has_table = any(table is not None and table.table is not None for table in limbs)
    if has_table and path.parent.resolve() != case.path.parent.resolve():
        raise CaseError(
            f"--out {path}: the case reads a table beside it; give a name in "
            f'"{case.path.parent}", where that table is'
        )


def _wood(fit: Fit, name: str) -> Wood:
    stave = fit.setup.stave
    return (
        stave.heartwood if stave.sapwood_wood is None or name != "sapwood" else stave.sapwood_wood
    )


def _write_strength(table: Any, wood: Wood, fit: Fit) -> None:
    """Write the crushing strength, and the tension strength, which would follow it, as it was."""
    values = {
        "compression_strength": wood.strength.compression,
        "compression_proportional_limit": wood.strength.compression_proportional_limit,
        "tension_strength": wood.strength.tension,
    }
    for name, value in values.items():
        table[name] = f"{1e-6 * value:.4g} MPa"
        kept = name == "tension_strength"
        table[name].comment("as before the fit" if kept else f"fitted to {_name(fit)}")


def _name(fit: Fit) -> str:
    return Path(fit.readings.file).name


def write_fitted(case: Case, fit: Fit, path: Path) -> Path:
    """Write the case with the fitted E_L and its scatter, and the strength that goes with it.

    All else stays as the user wrote it.

    Parameters
    ----------
    case : Case
        As it was read.
    fit : Fit
    path : Path
        Written whole or not at all, and read back before it takes its name.

    Raises
    ------
    CaseError
        If the file cannot be written or would not be read.
    """
    check_fitted(case, path)
    document = tomlkit.parse(decode(read_bytes(case.path, str(case.path)), str(case.path)))
    woods: Any = document["wood"]
    for modulus in fit.moduli:
        table = woods[modulus.wood]
        table["E_L"] = f"{1e-9 * modulus.value:.4g} GPa"
        table["E_L"].comment(f"fitted to {_name(fit)}")
        if "cov" not in table:
            table["cov"] = tomlkit.inline_table()
        table["cov"]["E_L"] = round(modulus.scatter, 4)
        if fit.crushing.told:
            _write_strength(table, _wood(fit, modulus.wood), fit)
    with whole_file(path) as partial:
        partial.write_text(tomlkit.dumps(document), encoding="utf-8")
        try:
            read_case(partial)
        except CaseError as error:
            raise CaseError(str(error).replace(str(partial), str(path))) from error
    return path
