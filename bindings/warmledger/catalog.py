"""The data folder and program files, read and checked, as objects that can be pickled and sent to other processes."""

from __future__ import annotations

import difflib
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from . import _core
from .changes import changed_text, setting_in, without_entries
from .display import table_html
from .errors import Error, FileUnreadable, MalformedText, UnknownName, error

DATA_VARIABLE = "WARMLEDGER_DATA"

# Keys of [as_if_prices] in a program file.
AS_IF_PRICES = {
    "electricity": "electricity_usd_per_kwh",
    "natural_gas": "natural_gas_usd_per_therm",
    "propane": "propane_usd_per_gal",
    "heating_oil": "heating_oil_usd_per_gal",
}

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
    """A program file, read and checked, with the catalogue it was read with. It never changes: `changed` gives another.

    Made by `load_program` and `parse_program`. Pickles and copies, also to other processes.
    """

    def __init__(self, text: str, name: str, catalog: Catalog, changes: Mapping[str, Any] | None = None) -> None:
        self.text, self.file, self.catalog = text, name, catalog
        self.changes = dict(changes or {})
        self.core = _core.catalog.parse_program(text, name, catalog.core)
        self._appraiser: _core.appraisal.Appraiser | None = None

    def __reduce__(self) -> tuple[Any, ...]:
        return (Program, (self.text, self.file, self.catalog, self.changes))

    def __repr__(self) -> str:
        counts = f"{len(self.packages)} packages, {len(self.incentives)} incentives, {len(self.loans)} loans"
        changed = ", ".join(list(self.changes)[:3]) + (", ..." if len(self.changes) > 3 else "")
        return f"<Program {self.title}: {counts}{f'; changed: {changed}' if changed else ''}>"

    def _repr_html_(self) -> str:
        return table_html(
            [
                ("Program", self.title),
                ("Note", self.note),
                ("Installed on", str(self.install_date)),
                ("Study", f"{self.study_years} years"),
                ("Discount rate", f"{self.core.nominal_discount_rate:.2%} a year, nominal"),
                ("Inflation", f"{self.core.inflation_rate:.2%} a year"),
                ("Income tiers", ", ".join(self.tiers)),
                ("Packages", ", ".join(self.packages)),
                ("Incentives", ", ".join(self.incentives)),
                ("Loans", ", ".join(self.loans)),
                ("File", self.file),
                *(("Changed", f"{key} = {value!r}") for key, value in self.changes.items()),
            ]
        )

    def as_if(self, rule: str, *, valid_from: Any = None, valid_to: Any = None) -> Program:
        """The same program with an incentive taken as if it held at other dates: a what-if, which is not the law.

        rule                  id of an incentive of the program or of a jurisdiction it names
        valid_from, valid_to  datetime.date; what is left out stays as it is

        Every output says so: the note, the results' column `as_if`, the reasons and Appraisal.incentives. The same as
        a table [[as_if]] in the program file, with the same errors. Raises UnknownName for a rule that is not there,
        MissingValue if neither date is given, DuplicateName if the rule has a what-if already.
        """
        entry = f"\n[[as_if]]\nrule = {json.dumps(rule)}\n"
        changes = {}
        for name, date in (("valid_from", valid_from), ("valid_to", valid_to)):
            if date is not None:
                entry += f"{name} = {date.isoformat()}\n"
                changes[f"as_if.{rule}.{name}"] = date
        return Program(self.text + entry, self.file, self.catalog, {**self.changes, **changes})

    def as_if_prices(self, prices: Mapping[str, float | None]) -> Program:
        """The same program with fuel prices taken as if they held on the install date: a what-if.

        prices  maps fuels (electricity, natural_gas, propane, heating_oil) to US dollars a unit (kWh, therm, gallon);
                None takes a what-if away

        They stand in the place of every other price: of the program, of a tariff, of the household's own. A household's
        bills in dollars still count as paid at the price that holds, so that its use stays. Every output says so: the
        note, the results' column `as_if`, the reasons, the pages and workbooks. The same as a table [as_if_prices] in
        the program file. Raises UnknownName for a fuel that is not known, ValueOutOfRange for a price.
        """
        if not isinstance(prices, Mapping):
            raise error(
                MalformedText,
                "are no prices",
                key="prices",
                value=repr(prices)[:80],
                allowed='a mapping of fuels to dollars a unit, for example {"propane": 3.5}',
            )
        for fuel in prices:
            if fuel not in AS_IF_PRICES:
                near = difflib.get_close_matches(str(fuel), AS_IF_PRICES, n=1)
                raise error(
                    UnknownName,
                    "is no fuel" + (f" (did you mean {near[0]}?)" if near else ""),
                    key="prices",
                    value=str(fuel),
                    allowed=", ".join(AS_IF_PRICES),
                )
        return self.changed({f"as_if_prices.{AS_IF_PRICES[fuel]}": usd for fuel, usd in prices.items()})

    def changed(self, changes: Mapping[str, Any]) -> Program:
        """The same program with some keys of its file changed, for a what-if; this one stays as it is.

        changes  maps keys, written as in a program file, to values:

            "study_years": 25                                   a value at the top of the file
            "economics.inflation_rate": 0.03                    in a table
            "incentive.ID.flat_usd": 0                          in the entry with that id: incentive, loan, package
            "income.tier.low.most_share": 0.6                   or with that name: place, income.tier
            'place."High Town".latitude_deg': 39.2              quotes where a name holds spaces or dots
            "incentive.ID": None                                None takes out a key or an entry
            "loan.ID": {"title": "...", "yearly_rate": 0.04, "term_months": 60}     a whole entry, new or in place of
                                                                the old one

        Values are those of a program file: text, numbers, true or false, dates (datetime.date), lists. The changes are
        made in their order and the result is checked as a file is: the errors are the same and name the key. What is
        not in the file cannot be named (UnknownName), so incentives of data/incentives can only be left out as a whole,
        by "jurisdictions".

        The changes stand in `changes` and in `assumptions()`, so that no output hides them. `text` holds the new file
        (without comments), to be saved with `Path("b.toml").write_text(program.text, encoding="utf-8")`.
        """
        if not isinstance(changes, Mapping):
            raise error(
                MalformedText,
                "are no changes",
                key="changes",
                value=repr(changes)[:80],
                allowed="a mapping of keys of a program file to values",
            )
        text = changed_text(self.text, changes, self.file)
        try:
            return Program(text, self.file, self.catalog, {**self.changes, **changes})
        except Error as failure:
            # The file had no error before, so that a change is at fault. Line numbers of the new text help nobody.
            problem = failure.problem
            keys = [key for key in changes if without_entries(key) == problem["key"]]
            if len(keys) > 1:
                keys = [key for key in keys if str(changes[key]) == problem["value"].strip('"')]
            raise error(
                type(failure),
                problem["what"],
                allowed=problem["allowed"],
                value=problem["value"],
                file=f"{self.file}, changed",
                key=keys[0] if len(keys) == 1 else problem["key"],
            ) from None

    def setting(self, key: str) -> Any:
        """What the program file says at a key, written as for `changed`; UnknownName where it does not say it.

        A table is a dict, a list of tables a list of dicts. program.setting("prices.propane.usd_per_unit") * 1.2
        """
        return setting_in(self.text, key, self.file)

    @property
    def title(self) -> str:
        """Name of the program."""
        return self.core.title

    @property
    def note(self) -> str:
        """What every output says of it; empty for none."""
        return self.core.note

    @property
    def tiers(self) -> list[str]:
        """Names of the income tiers, lowest first."""
        return self.core.tiers

    @property
    def packages(self) -> list[str]:
        """Ids of the packages, in file order."""
        return self.core.packages

    @property
    def incentives(self) -> list[str]:
        """Ids of the incentives, those of its jurisdictions too."""
        return self.core.incentives

    @property
    def loans(self) -> list[str]:
        """Ids of the loans, in file order."""
        return self.core.loans

    @property
    def what_ifs(self) -> list[str]:
        """What is as if, in words: rules that are not the law, prices that do not hold. Empty for nothing."""
        return self.core.as_if

    @property
    def install_date(self) -> Any:
        """datetime.date on which every system is taken as installed."""
        return self.core.install_date

    @property
    def study_years(self) -> int:
        """Length of the study."""
        return self.core.study_years

    def assumptions(self) -> list[tuple[str, str, str]]:
        """Everything a run rests on: (what, value, source)."""
        changes = [
            (f"changed: {key}", "taken out" if value is None else str(value), f"changed after reading {self.file}")
            for key, value in self.changes.items()
        ]
        return changes + _core.catalog.assumptions(self.core, self.catalog.core)

    def about(self) -> dict[str, Any]:
        """What results carry of their program in attrs["program"], as plain values: title, note, install_date (ISO),
        study_years, tiers, assumptions (lists of what, value, source)."""
        return {
            "title": self.title,
            "note": self.note,
            "install_date": self.install_date.isoformat(),
            "study_years": self.study_years,
            "tiers": list(self.tiers),
            "assumptions": [list(row) for row in self.assumptions()],
        }

    @property
    def appraiser(self) -> _core.appraisal.Appraiser:
        """What appraises under this program; made when first asked for."""
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
