"""warmledger: whether a water-heating improvement pays for a household, when, and with which help.

    import warmledger as wl
    results = wl.screen("households.csv", "program.toml")       # one row a household, decision first
    one = wl.appraise({"household_id": "A", ...}, "program.toml")  # everything about one household
    wl.plots.cash_flow(one)                                        # one of its figures

    load_program, parse_program    a program file as a Program; Program.changed({...}) for what-ifs
    screen, check, read_sheet      a sheet of households: appraised, only checked, only read
    screen_file, screen_batches    sheets of any length: from file to file with checkpoints, Arrow batches; `cluster`
    save_results, program_report   results as .csv, .xlsx or .parquet, and as a page to read
    appraise                       one household: decision, measures, ledger, year, hours, loans, report
    income_tiers, result_columns   which tiers a household is in; what the result columns are
    plots                          figures (matplotlib)
    whatif                         sweeps, goal seek, risk, and a budget spent well
    climate, hotwater, loans, economics    the parts by themselves
    errors                         everything that is raised on purpose

The figures support decisions; they are no lending, tax or legal advice. Local codes and licensed practice decide what
may be built, and how.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from . import _core, errors

if TYPE_CHECKING:
    from . import climate, cluster, documentation, economics, hotwater, loans, plots, whatif
    from .appraisal import Appraisal, appraise
    from .catalog import Catalog, Program, data_dir, load_catalog, load_program, parse_program
    from .errors import UnknownColumnWarning
    from .income import income_tiers
    from .offers import evaluate_offers
    from .outputs import save_results
    from .publish import program_report
    from .screening import check, cost_tests, result_columns, screen
    from .sheet import read_sheet
    from .streaming import FileSummary, screen_batches, screen_file

__version__: str = _core.version

__all__ = [
    "Appraisal",
    "Catalog",
    "FileSummary",
    "Program",
    "UnknownColumnWarning",
    "__version__",
    "appraise",
    "build_config",
    "check",
    "climate",
    "cluster",
    "cost_tests",
    "data_dir",
    "documentation",
    "economics",
    "errors",
    "evaluate_offers",
    "hotwater",
    "income_tiers",
    "load_catalog",
    "load_program",
    "loans",
    "parse_program",
    "plots",
    "program_report",
    "read_sheet",
    "result_columns",
    "save_results",
    "screen",
    "screen_batches",
    "screen_file",
    "whatif",
]


# Names by the module they stand in. A module is loaded with the first use of one of its names, so that the import alone
# takes less time than NumPy's; the block above says the same to type checkers.
_MODULES = ("climate", "cluster", "documentation", "economics", "hotwater", "loans", "plots", "whatif")
_HOMES = {
    "appraisal": ("Appraisal", "appraise"),
    "catalog": ("Catalog", "Program", "data_dir", "load_catalog", "load_program", "parse_program"),
    "errors": ("UnknownColumnWarning",),
    "income": ("income_tiers",),
    "offers": ("evaluate_offers",),
    "outputs": ("save_results",),
    "publish": ("program_report",),
    "screening": ("check", "cost_tests", "result_columns", "screen"),
    "sheet": ("read_sheet",),
    "streaming": ("FileSummary", "screen_batches", "screen_file"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

if not TYPE_CHECKING:

    def __getattr__(name: str) -> Any:
        if name in _MODULES:
            return import_module(f".{name}", __name__)
        if name not in _HOME_OF:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        value = getattr(import_module(f".{_HOME_OF[name]}", __name__), name)
        globals()[name] = value
        return value

    def __dir__() -> list[str]:
        return sorted({*globals(), *__all__})


def build_config() -> dict[str, str]:
    """Versions, compiler and folders, for a report of a fault."""
    import os
    import platform
    from importlib import metadata

    from .catalog import DATA_VARIABLE, data_dir

    config = {
        "warmledger": __version__,
        "compiler": _core.compiler,
        "extension": str(_core.__file__),
        "data": str(data_dir()),
        "data override": os.environ.get(DATA_VARIABLE, "none"),
        "python": platform.python_version(),
        "machine": f"{platform.system()} {platform.machine()}",
    }
    for name in ("numpy", "pandas", "scipy", "openpyxl", "XlsxWriter", "matplotlib", "tqdm", "pyarrow"):
        try:
            config[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            config[name] = "not installed"
    return config
