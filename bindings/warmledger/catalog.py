"""The data folder and program files, read and checked, as objects that can be pickled and sent to other processes."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from . import _core
from .errors import FileUnreadable, MalformedText, error

DATA_VARIABLE = "WARMLEDGER_DATA"

PathLike = str | os.PathLike[str]


def data_dir() -> Path:
    """The package's own data folder."""
    return Path(__file__).parent / "data"


class Catalog:
    """Places, fuels, prices, equipment, tax tables and legal incentives of a data folder."""

    def __init__(self, data: PathLike | None = None, override: PathLike | None = None) -> None:
        if override is None:
            override = os.environ.get(DATA_VARIABLE, "") if data is None else ""
        self.data = os.fspath(data) if data is not None else str(data_dir())
        self.override = os.fspath(override)
        self.core = _core.catalog.Catalog(self.data, self.override)

    def __reduce__(self) -> tuple[Any, ...]:
        return (Catalog, (self.data, self.override))

    def __repr__(self) -> str:
        extra = f", override {self.override}" if self.override else ""
        return f"<Catalog of {self.data}{extra}: {self.core.place_count} places>"

    def nearest(self, latitude_deg: float, longitude_deg: float) -> tuple[_core.climate.Climate, float]:
        """The climate nearest to a point, and its distance in km."""
        return self.core.nearest(latitude_deg, longitude_deg)

    def named(self, name: str) -> _core.climate.Climate:
        """The climate of a station by number, or by name with its state."""
        return self.core.named(name)


class Program:
    """A program file, read and checked, with the catalogue it was read with."""

    def __init__(self, text: str, name: str, catalog: Catalog) -> None:
        self._text, self.file, self.catalog = text, name, catalog
        self.core = _core.catalog.parse_program(text, name, catalog.core)
        self._appraiser: _core.appraisal.Appraiser | None = None

    def __reduce__(self) -> tuple[Any, ...]:
        return (Program, (self._text, self.file, self.catalog))

    def __repr__(self) -> str:
        counts = f"{len(self.packages)} packages, {len(self.incentives)} incentives, {len(self.loans)} loans"
        return f"<Program {self.title}: {counts}>"

    @property
    def title(self) -> str:
        return self.core.title

    @property
    def note(self) -> str:
        return self.core.note

    @property
    def tiers(self) -> list[str]:
        """Names of the income tiers, lowest first."""
        return self.core.tiers

    @property
    def packages(self) -> list[str]:
        return self.core.packages

    @property
    def incentives(self) -> list[str]:
        return self.core.incentives

    @property
    def loans(self) -> list[str]:
        return self.core.loans

    @property
    def install_date(self) -> Any:
        """datetime.date on which every system is taken as installed."""
        return self.core.install_date

    @property
    def study_years(self) -> int:
        return self.core.study_years

    def assumptions(self) -> list[tuple[str, str, str]]:
        """Everything a run rests on: (what, value, source)."""
        return _core.catalog.assumptions(self.core, self.catalog.core)

    @property
    def appraiser(self) -> _core.appraisal.Appraiser:
        if self._appraiser is None:
            self._appraiser = _core.appraisal.Appraiser(self.core, self.catalog.core)
        return self._appraiser


def load_catalog(data: PathLike | None = None, override: PathLike | None = None) -> Catalog:
    """Reads the catalogues.

    `data` is a whole data folder (default: the package's own). A file in the folder `override` takes the place of the
    file of the same name in `data`; its incentives/*.toml add to the others. Where neither is given, the environment
    variable WARMLEDGER_DATA may name the folder `override`.
    """
    return Catalog(data, override)


def load_program(path: PathLike, catalog: Catalog | None = None) -> Program:
    """Reads a program file (TOML). Every key is checked; errors name file, line, key and what is allowed."""
    name = os.fspath(path)
    catalog = catalog or load_catalog()
    try:
        raw = Path(name).read_bytes()
    except OSError as failure:
        raise error(
            FileUnreadable, f"cannot be read ({failure.strerror})", allowed="a program file (TOML)", file=name
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as failure:
        line = raw.count(b"\n", 0, failure.start) + 1
        raise error(
            FileUnreadable,
            f"is not UTF-8 (byte 0x{raw[failure.start]:02X})",
            allowed="text saved as UTF-8",
            file=name,
            line=line,
        ) from None
    return Program(text, name, catalog)


def parse_program(text: str, name: str = "program", catalog: Catalog | None = None) -> Program:
    """A program from the text of a program file; `name` stands for the file in errors."""
    return Program(text, name, catalog or load_catalog())


def as_program(program: Program | PathLike) -> Program:
    if isinstance(program, Program):
        return program
    if not isinstance(program, str | os.PathLike):
        raise error(
            MalformedText,
            "is not a program",
            key="program",
            value=repr(program)[:80],
            allowed="a Program, or the path of a program file",
        )
    return load_program(program)
