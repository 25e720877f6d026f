"""Every benchmark, one command: a table on the screen, and JSON with every sample.

    PYTHONPATH=build/python python3 tests/bench/run.py [--quick] [--only NAME ...] [--json FILE] [--million]

    import      `import warmledger` beside `import numpy`
    kernel      hourly simulation beside the plain scalar reference; share of multiply-add peak and memory bandwidth
    hourly      a generated sheet by the hourly method beside its simulation alone
    monthly     a generated sheet by the monthly method beside the plain NumPy pipeline
    appraise    one household through Python beside the same in C++
    trials      Monte Carlo trials of one household beside as many calls of appraise
    economics   every measure of many offers beside vectorised NumPy
    rates       internal rates beside pyxirr and numpy-financial
    loans       loan schedules beside numpy-financial, QuantLib and plain Python
    weather     an hourly weather file beside pandas' reader
    workbook    a results workbook beside pandas' writer
    rows        1e3 to 1e6 generated households: time a row, greatest memory (--million: 1e6 by the hourly method too)

Claims are ratios within one run: the sides take turns, medians and spread are printed. Times are processor time of this
process unless a row says wall clock. kernel, hourly and appraise need the C++ programs of -DWARMLEDGER_BUILD_BENCH=ON;
what is missing is said and skipped. --quick takes seconds and proves only that everything runs.
"""

# ruff: noqa: E402 (the environment is set before NumPy is loaded)
from __future__ import annotations

import os

# The NumPy pipelines are timed on one core unless a row says otherwise.
for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import argparse
import csv
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import harness
import make_sheet
import numpy as np
import numpy_offers
import plain_pipeline
import warmledger as wl
from harness import Bench, in_turns

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "data"
PROGRAM = DATA / "demo" / "program.toml"


class Settings:
    """How much is measured, where, and what one benchmark leaves to another."""

    def __init__(self, quick: bool, million: bool, folder: Path) -> None:
        self.quick = quick
        self.million = million
        self.folder = folder
        self.turns = 1 if quick else 7
        self.peak_per_s: float | None = None  # multiplications and additions of one core
        self.bytes_per_s: float | None = None  # of memory, one core

    def size(self, full: int, quick: int) -> int:
        return quick if self.quick else full

    def sheet(self, rows: int, places: list[str] | None = None) -> Path:
        places = places or county_places()
        path = self.folder / f"sheet-{rows}-{len(places)}.csv"
        if not path.exists():
            make_sheet.write_sheet(path, rows, places=places)
        return path


def county_places() -> list[str]:
    return [place["name"] for place in plain_pipeline.County(DATA, PROGRAM).program["place"]]


def library(name: str) -> Any:
    """A library, or None."""
    try:
        return __import__(name)
    except ImportError:
        return None


def bench_program(name: str) -> Path | str:
    """A C++ program beside the built package, or why there is none."""
    built = Path(wl.build_config()["extension"]).resolve().parents[2]
    for folder in (built, ROOT / "build", ROOT / "build-bench"):
        if (folder / "tests" / name).is_file():
            return folder / "tests" / name
    return f"{name} is not built (-DWARMLEDGER_BUILD_BENCH=ON)"


def run_program(path: Path, *words: str | Path) -> None:
    subprocess.run([path, *words], check=True, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL)


# --- one function a benchmark ---


def import_time(settings: Settings) -> Bench:
    bench = Bench("import", "Import, in a new interpreter each time", "an import", "numpy")
    for label in ("numpy", "warmledger", "pandas", "warmledger, and screen looked up"):
        bench.rows.append(harness.Row(label))
    for _ in range(settings.size(11, 2)):
        for row in bench.rows:
            words = row.label.split(",")[0]
            look = "; warmledger.screen; from warmledger import frames" if "looked up" in row.label else ""
            code = (
                "import time; start = time.process_time()\n"
                f"import {words}{look}\n"
                "seen = {'seconds': time.process_time() - start}"
            )
            row.samples.append(harness.child(code)["seconds"])
    bench.target("import warmledger over import numpy", "at_most", 1.5, 1 / bench.ratio("warmledger"))
    return bench


def kernel(settings: Settings) -> Bench:
    bench = Bench("kernel", "Hourly simulation, steps of 15 minutes", "a household-year", "plain reference")
    program = bench_program("hourly_bench")
    if isinstance(program, str):
        bench.rows.append(harness.Row("hourly_bench", skipped=program))
        return bench
    out = settings.folder / "kernel.json"
    run_program(program, f"--json={out}", f"--rounds={settings.size(9, 1)}")
    seen = json.loads(out.read_text())
    settings.peak_per_s = float(np.median(seen.pop("peak_per_s")))
    settings.bytes_per_s = float(np.median(seen.pop("triad_bytes_per_s")))
    operations, moved = seen.pop("operations_a_year"), seen.pop("bytes_a_year")
    bench.rows = [harness.Row(label, samples) for label, samples in seen.items()]
    best = min(bench.rows, key=lambda row: row.median)
    bench.target(f"{best.label} over the plain reference", "at_least", 8, bench.ratio(best.label))
    bench.facts["memory bandwidth of one core, GB/s (a = b + factor c over 384 MB)"] = settings.bytes_per_s / 1e9
    bench.facts["share of it that a household-year takes, %"] = 100 * moved / best.median / settings.bytes_per_s
    if settings.peak_per_s > 0:
        share = 100 * operations / best.median / settings.peak_per_s
        bench.facts["multiply-add peak of one core, Gflop/s"] = settings.peak_per_s / 1e9
        bench.target("share of the multiply-add peak, %", "at_least", 25, share)
    return bench


def hourly(settings: Settings) -> Bench:
    rows = settings.size(2000, 12)
    bench = Bench("hourly", f"{rows} generated households by the hourly method", "a household", "simulation alone")
    # As many households a weather station as a million has over the catalogue.
    sheet = settings.sheet(rows, make_sheet.stations(max(1, rows // 1000)))
    program = wl.load_program(PROGRAM)
    frame = wl.read_sheet(sheet)

    def screen(threads: int) -> Callable[[], object]:
        return lambda: wl.screen(frame, program, threads=threads, progress=False)

    binary = bench_program("screening_bench")
    bench.rows = [
        harness.Row(label) for label in ("simulation alone", "screen, 1 thread", "screen, 2 threads, wall clock")
    ]
    if isinstance(binary, str):
        bench.rows[0].skipped = binary
    for _ in range(settings.size(3, 1)):
        for row in bench.rows:
            if row.skipped:
                continue
            if row.label == "simulation alone":
                out = settings.folder / "screening.json"
                run_program(binary, DATA, PROGRAM, sheet, out, "1")
                seen = json.loads(out.read_text())
                assert seen["households"] == rows, "every generated household is a good row"
                bench.facts["systems simulated for a household"] = seen["systems"] / rows
                row.samples.append(seen["kernel_s"][0] / rows)
            else:
                threads = 1 if "1 thread" in row.label else 2
                clock = time.process_time if threads == 1 else time.perf_counter
                start = clock()
                screen(threads)()
                row.samples.append((clock() - start) / rows)
    if not bench.rows[0].skipped:
        share = 1 / bench.ratio("screen, 1 thread")
        bench.target("screening over its simulation alone", "at_most", 1.15, share)
    return bench


def monthly(settings: Settings) -> Bench:
    rows, compared = settings.size(4000, 40), settings.size(60, 5)
    bench = Bench(
        "monthly",
        f"{rows} generated households by the monthly method, all result columns",
        "a household",
        "plain NumPy",
    )
    sheet = settings.sheet(rows)
    program = wl.load_program(PROGRAM)
    county = plain_pipeline.County(DATA, PROGRAM)
    with open(sheet, encoding="utf-8", newline="") as file:
        households = [row for row, _ in zip(csv.DictReader(file), range(compared), strict=False)]
    frame = wl.read_sheet(sheet)

    def screen(threads: int) -> Callable[[], object]:
        return lambda: wl.screen(frame, program, detail="monthly", threads=threads, progress=False)

    ours = wl.screen(frame.iloc[:compared], program, detail="monthly", progress=False)
    for row, (_, own) in zip(households, ours.iterrows(), strict=True):
        figures = plain_pipeline.appraise(row, county)
        assert figures["decision"] == own["decision"], row
        assert abs(figures["net_savings_usd"] - own["net_savings_usd"]) < 0.01, row
    in_turns(
        bench,
        {
            "plain NumPy": lambda: [plain_pipeline.appraise(row, county) for row in households],
            "screen, 1 thread": screen(1),
            "screen, 2 threads, wall clock": screen(2),
        },
        {"plain NumPy": compared, "screen, 1 thread": rows, "screen, 2 threads, wall clock": rows},
        settings.turns,
        {"screen, 2 threads, wall clock": time.perf_counter},
    )
    best = max(bench.ratio(row.label) for row in bench.rows if row.label != bench.base)
    bench.target("monthly screening over plain NumPy", "at_least", 50, best)
    binary = bench_program("screening_bench")
    inside = harness.Row("appraised in C++, no result columns", skipped=binary if isinstance(binary, str) else "")
    bench.rows.append(inside)
    if not isinstance(binary, str):
        out = settings.folder / "monthly.json"
        run_program(binary, DATA, PROGRAM, settings.sheet(settings.size(400, 12)), out, str(settings.turns))
        seen = json.loads(out.read_text())
        inside.samples = [seconds / seen["households"] for seconds in seen["appraise_many_monthly_s"]]
        bench.facts["packages worked out for a household"] = seen["systems"] / seen["households"]
    return bench


def appraise(settings: Settings) -> Bench:
    rows = 100
    bench = Bench("appraise", "One household at a time, monthly method", "a call", "C++")
    sheet = settings.sheet(rows)
    binary = bench_program("screening_bench")
    program = wl.load_program(PROGRAM)
    with open(sheet, encoding="utf-8", newline="") as file:
        households = [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(file)]
    bench.rows = [harness.Row("C++"), harness.Row("appraise")]
    if isinstance(binary, str):
        bench.rows[0].skipped = binary
    passes = settings.size(30, 1)  # the least disturbed one counts: the difference sought is a few microseconds
    for _ in range(settings.turns):
        if not bench.rows[0].skipped:
            out = settings.folder / "appraise.json"
            run_program(binary, DATA, PROGRAM, sheet, out, str(passes))
            bench.rows[0].samples.append(min(json.loads(out.read_text())["appraise_one_monthly_s"]))
        seconds = []
        for _ in range(passes):
            start = time.process_time()
            for household in households:
                wl.appraise(household, program, detail="monthly")
            seconds.append((time.process_time() - start) / rows)
        bench.rows[1].samples.append(min(seconds))
    if not bench.rows[0].skipped:
        over = (bench.row("appraise").median - bench.row("C++").median) * 1e6
        bench.target("binding overhead of one appraise, us", "at_most", 20, over)
    return bench


def trials(settings: Settings) -> Bench:
    count = settings.size(10_000, 50)
    program = wl.load_program(PROGRAM)
    household = {
        "household_id": "one",
        "place": county_places()[0],
        "occupants": 4,
        "yearly_income_usd": 52000,
        "heater_fuel": "propane",
    }
    model = wl.whatif.RiskModel.defaults().with_changes(gone={"county-rebate": 0.2})

    def drawn(threads: int) -> Callable[[], object]:
        return lambda: wl.whatif.monte_carlo((household, program), model, trials=count, threads=threads)

    def calls() -> None:
        for _ in range(count):
            wl.appraise(household, program, detail="monthly")

    bench = Bench("trials", f"{count} trials of one household, monthly, every input drawn", "a trial", "appraise")
    both = "monte_carlo, 2 threads, wall clock"
    works = {"appraise": calls, "monte_carlo, 1 thread": drawn(1), both: drawn(2)}
    in_turns(bench, works, count, min(settings.turns, 5), {both: time.perf_counter})
    bench.target("a trial over a call of appraise", "at_least", 20, bench.ratio("monte_carlo, 1 thread"))
    return bench


def economics(settings: Settings) -> Bench:
    count = settings.size(50_000, 200)
    offers = numpy_offers.invented(count)
    numpy_offers.check(numpy_offers.part_of(offers, 0, min(2000, count)))

    def ours(threads: int) -> Callable[[], object]:
        return lambda: wl.evaluate_offers(offers, study_years=numpy_offers.YEARS, threads=threads)

    bench = Bench(
        "economics",
        f"{count} offers, 30 years of months, one loan, four incentives, all measures",
        "an offer",
        "NumPy, slices of 200",
    )
    in_turns(
        bench,
        {
            "NumPy, slices of 200": lambda: numpy_offers.in_slices(offers, 200),
            "evaluate_offers, 1 thread": ours(1),
            "evaluate_offers, 2 threads, wall clock": ours(2),
        },
        count,
        settings.turns,
        {"evaluate_offers, 2 threads, wall clock": time.perf_counter},
    )
    each = bench.row("evaluate_offers, 1 thread").median
    if settings.peak_per_s:
        # Additions, subtractions, multiplications and divisions of one lane, counted by hand in
        # ledger/offers_kernel.hpp: 17 a month, 14 more in a month of the loan, 15 a year; about ten of Newton's steps
        # of four operations a year. Comparisons and selects are not counted.
        years = numpy_offers.YEARS
        operations = 17 * 12 * years + 14 * float(offers["loan_term_months"].mean()) + 15 * years + 10 * 4 * years
        bench.facts["share of the multiply-add peak, %"] = 100 * operations / each / settings.peak_per_s
    if settings.bytes_per_s:
        columns = (
            sum(column.nbytes for column in offers.values()) / count
            + 8 * wl.evaluate_offers(numpy_offers.part_of(offers, 0, 1), study_years=1).shape[1]
        )
        bench.facts["share of the memory bandwidth, %"] = 100 * columns / each / settings.bytes_per_s
    return bench


def rates(settings: Settings) -> Bench:
    count, few = settings.size(20_000, 50), settings.size(100, 5)
    draw = np.random.default_rng(3)
    flows = np.hstack([-draw.uniform(1500, 12000, (count, 1)), draw.uniform(50, 900, (count, 30))])
    rows = flows.tolist()
    pyxirr, financial = library("pyxirr"), library("numpy_financial")
    base = "pyxirr" if pyxirr else "NumPy, Newton on all rows"
    bench = Bench("rates", f"{count} internal rates of 31 yearly flows", "a rate", base)
    found = [wl.economics.irr(row)[0] for row in rows[:few]]
    if pyxirr:
        assert np.allclose(found, [pyxirr.irr(row) for row in rows[:few]], atol=1e-8)
    assert np.allclose(found, numpy_offers.internal_rates_numpy(flows[:few]), atol=1e-8)

    def by_row(threads: int) -> Callable[[], object]:
        return lambda: wl.economics.internal_rates_by_row(flows, threads=threads)

    names = {
        "pyxirr": (lambda: [pyxirr.irr(row) for row in rows]) if pyxirr else "pyxirr is not installed",
        "numpy-financial": (lambda: [financial.irr(row) for row in rows[:few]])
        if financial
        else "numpy-financial is not installed",
        "NumPy, Newton on all rows": lambda: numpy_offers.internal_rates_numpy(flows),
        "internal_rates_by_row, 1 thread": by_row(1),
        "internal_rates_by_row, 2 threads, wall clock": by_row(2),
        "irr, one call a row": lambda: [wl.economics.irr(row) for row in rows],
    }
    items = dict.fromkeys(names, count) | {"numpy-financial": few}
    clocks = {"internal_rates_by_row, 2 threads, wall clock": time.perf_counter}
    in_turns(bench, names, items, settings.turns, clocks)
    if pyxirr:
        bench.target("internal rates over pyxirr", "at_least", 3, bench.ratio("internal_rates_by_row, 1 thread"))
    return bench


def loans(settings: Settings) -> Bench:
    count, months = settings.size(300, 5), 180
    draw = np.random.default_rng(5)
    amounts, yearly = np.round(draw.uniform(1000, 12000, count), 2), draw.uniform(0.02, 0.12, count)
    financial, quant = library("numpy_financial"), library("QuantLib")
    base = "numpy-financial" if financial else "plain Python"
    bench = Bench("loans", f"{count} schedules of {months} monthly payments", "a schedule", base)

    def with_financial() -> list[Any]:
        period = np.arange(1, months + 1)
        out = []
        for amount, rate in zip(amounts, yearly, strict=True):
            principal = -financial.ppmt(rate / 12, period, months, amount)
            interest = -financial.ipmt(rate / 12, period, months, amount)
            out.append((principal, interest, amount - principal.cumsum()))
        return out

    def with_quant() -> list[Any]:
        start, tenor = quant.Date(1, 9, 2026), quant.Period(months, quant.Months)
        days = quant.Thirty360(quant.Thirty360.BondBasis)
        out = []
        for amount, rate in zip(amounts.tolist(), yearly.tolist(), strict=True):
            owed = quant.sinkingNotionals(tenor, quant.Monthly, rate, amount)
            dates = quant.sinkingSchedule(start, tenor, quant.Monthly, quant.NullCalendar())
            bond = quant.AmortizingFixedRateBond(0, owed, dates, [rate], days)
            out.append([(flow.date(), flow.amount()) for flow in bond.cashflows()])
        return out

    def terms(k: int) -> wl.loans.LoanTerms:
        return wl.loans.LoanTerms(
            amount_usd=float(amounts[k]), yearly_rate=float(yearly[k]), term_months=months, start="2026-09-01"
        )

    asked = [terms(k) for k in range(count)]
    ours = wl.loans.schedule(asked[0])
    plain = plain_pipeline.level_loan(amounts[0], yearly[0], months)[1]
    assert np.allclose(ours["payment_usd"], plain), "to the cent"
    if financial:
        interest = with_financial()[0][1]
        assert np.allclose(ours["interest_usd"], interest, atol=0.02 * months), "but for cents, which it does not round"
    in_turns(
        bench,
        {
            "numpy-financial": with_financial if financial else "numpy-financial is not installed",
            "QuantLib": with_quant if quant else "QuantLib is not installed",
            "plain Python": lambda: [
                plain_pipeline.level_loan(a, r, months) for a, r in zip(amounts.tolist(), yearly.tolist(), strict=True)
            ],
            "the same columns, no frame": lambda: [
                wl._core.loans.schedule(wl.loans._given(one), False) for one in asked
            ],
            "loans.schedule, a frame each": lambda: [wl.loans.schedule(one) for one in asked],
            "loans.schedule, 50 digits": lambda: [wl.loans.schedule(one, exact=True) for one in asked],
        },
        count,
        settings.turns,
    )
    return bench


def write_tmy3(path: Path) -> None:
    """An invented year in the layout of a TMY3 file, all 71 columns."""
    year = wl.climate.synthesize(wl.climate.nearest(39.8, -104.9)[0], 7)
    quantities = (
        *("ETR (W/m^2)", "ETRN (W/m^2)", "GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "GH illum (lx)"),
        *("DN illum (lx)", "DH illum (lx)", "Zenith lum (cd/m^2)", "TotCld (tenths)", "OpqCld (tenths)"),
        *("Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)", "Wdir (degrees)", "Wspd (m/s)", "Hvis (m)"),
        *("CeilHgt (m)", "Pwat (cm)", "AOD (unitless)", "Alb (unitless)", "Lprecip depth (mm)", "PresWth (METAR code)"),
    )
    values = {
        "GHI (W/m^2)": np.round(year.global_w_m2),
        "DNI (W/m^2)": np.round(year.beam_normal_w_m2),
        "DHI (W/m^2)": np.round(year.diffuse_w_m2),
        "Dry-bulb (C)": np.round(year.dry_bulb_c, 1),
        "Wspd (m/s)": np.round(year.wind_m_s, 1),
    }
    header = ["Date (MM/DD/YYYY)", "Time (HH:MM)"]
    for name in quantities:
        short = name.partition(" (")[0]
        header += [name] if "ETR" in name else [name, f"{short} source", f"{short} uncert (code)"]
    days = np.arange("2003-01-01", "2004-01-01", dtype="datetime64[D]")
    with open(path, "w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["999999", "INVENTED PLACE", "CO", "-7.0", "39.833", "-104.650", "1650"])
        out.writerow(header)
        for hour in range(8760):
            date = days[hour // 24].item()
            cells = [f"{date:%m/%d/%Y}", f"{hour % 24 + 1:02}:00"]
            for name in quantities:
                value = values[name][hour] if name in values else 0.0
                cells += [f"{value:g}"] if "ETR" in name else [f"{value:g}", "A", "7"]
            out.writerow(cells)


def weather(settings: Settings) -> Bench:
    import pandas as pd

    path = settings.folder / "invented-tmy3.csv"
    write_tmy3(path)
    wanted = ["GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "Dry-bulb (C)", "Wspd (m/s)"]
    frame = pd.read_csv(path, skiprows=1, usecols=wanted)
    year = wl.climate.read_hourly(path)
    assert np.allclose(frame["Dry-bulb (C)"], year.dry_bulb_c)
    bench = Bench("weather", "A TMY3 file of 8760 hours", "a file", "pandas.read_csv, 5 columns")
    repeat = settings.size(5, 1)
    return in_turns(
        bench,
        {
            "pandas.read_csv, 5 columns": lambda: [
                pd.read_csv(path, skiprows=1, usecols=wanted) for _ in range(repeat)
            ],
            "pandas.read_csv, all columns": lambda: [pd.read_csv(path, skiprows=1) for _ in range(repeat)],
            "read_hourly, checked": lambda: [wl.climate.read_hourly(path) for _ in range(repeat)],
        },
        repeat,
        settings.turns,
    )


def workbook(settings: Settings) -> Bench:
    rows = settings.size(2000, 20)
    results = wl.screen(settings.sheet(rows), PROGRAM, detail="monthly", progress=False)
    bench = Bench("workbook", f"Results of {rows} households as .xlsx", "a household", "pandas.to_excel, XlsxWriter")
    path = settings.folder / "results.xlsx"
    plain = settings.folder / "plain.xlsx"
    missing = "" if library("xlsxwriter") else "XlsxWriter is not installed"
    return in_turns(
        bench,
        {
            "pandas.to_excel, XlsxWriter": missing or (lambda: results.to_excel(plain, engine="xlsxwriter")),
            "save_results, whole workbook": missing or (lambda: wl.save_results(results, path)),
        },
        rows,
        settings.size(5, 1),
    )


SCREEN = """
import json, sys, time, warmledger as wl
warm, sheet, program, detail, out = sys.argv[1:6]
program = wl.load_program(program)
def screen(sheet):
    if hasattr(wl, "screen_file"):
        wl.screen_file(sheet, program, out, detail=detail, threads=2, progress=False, overwrite=True)
    else:
        wl.save_results(wl.screen(sheet, program, detail=detail, threads=2, progress=False), out)
screen(warm)
wall, busy = time.perf_counter(), time.process_time()
screen(sheet)
seen = {"wall": time.perf_counter() - wall, "busy": time.process_time() - busy}
"""


def rows(settings: Settings) -> Bench:
    sizes = {"monthly": [1000, 10_000, 100_000, 1_000_000], "hourly": [1000, 10_000]}
    if settings.million:
        sizes["hourly"].append(1_000_000)
    if settings.quick:
        sizes = {"monthly": [20, 40], "hourly": [4, 8]}
    bench = Bench("rows", "Sheets of many rows, CSV to CSV, 2 threads, wall clock", "a row", "")
    for detail, lengths in sizes.items():
        busy, peaks = [], []
        for length in lengths:
            row = harness.Row(f"{detail}, {length} rows")
            bench.rows.append(row)
            sheet = settings.sheet(length)
            each = []
            for _ in range(3 if length * (30 if detail == "hourly" else 1) <= 50_000 and not settings.quick else 1):
                words = (settings.sheet(3), sheet, PROGRAM, detail, settings.folder / "out.csv")
                seen = harness.child(SCREEN, *map(str, words))
                row.samples.append(seen["wall"] / length)
                each.append(seen["busy"] / length)
            peak = seen["peak_bytes"] / 1e9
            if length > 10_000:
                sheet.unlink()
            busy.append(float(np.median(each)))
            peaks.append(peak)
            bench.facts[f"{row.label}: processor time a row, us"] = busy[-1] * 1e6
            bench.facts[f"{row.label}: greatest memory, GB"] = peak
        bench.target(f"{detail}: processor time a row, greatest over least", "at_most", 1.2, max(busy) / min(busy))
        bench.target(f"{detail}: greatest memory, GB", "at_most", 1.5, max(peaks))
    return bench


BENCHES: dict[str, Callable[[Settings], Bench]] = {
    "import": import_time,
    "kernel": kernel,
    "hourly": hourly,
    "monthly": monthly,
    "appraise": appraise,
    "trials": trials,
    "economics": economics,
    "rates": rates,
    "loans": loans,
    "weather": weather,
    "workbook": workbook,
    "rows": rows,
}


def main(words: list[str] | None = None) -> int:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--quick", action="store_true", help="tiny sizes, one turn: seconds")
    options.add_argument("--only", nargs="+", choices=list(BENCHES), metavar="NAME", help=", ".join(BENCHES))
    options.add_argument("--json", type=Path, help="write machine, versions and every sample here")
    options.add_argument("--markdown", type=Path, help="write the tables of data/scale.md here")
    options.add_argument("--million", action="store_true", help="a million households by the hourly method too")
    chosen = options.parse_args(words)
    where = harness.machine()
    print(f"{where['processor']}, {where['cores']} cores, load {where['load_average_at_start']}; {where['system']}")
    done: list[Bench] = []
    with tempfile.TemporaryDirectory(prefix="warmledger-bench-") as folder:
        settings = Settings(chosen.quick, chosen.million, Path(folder))
        for name, measure in BENCHES.items():
            if chosen.only and name not in chosen.only:
                continue
            bench = measure(settings)
            done.append(bench)
            print(harness.table(bench), flush=True)
            if chosen.json:  # after each, so that a run that is stopped keeps what it has
                harness.write_json(chosen.json, where, done)
            if chosen.markdown:
                chosen.markdown.write_text(harness.markdown(where, done), encoding="utf-8")
    missed = [target for bench in done for target in bench.targets if not target.reached]
    print(f"\n{sum(len(b.targets) for b in done)} targets, {len(missed)} missed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
