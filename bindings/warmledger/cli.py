"""The command line: python -m warmledger screen | check | appraise | columns."""

from __future__ import annotations

import argparse
import contextlib
import difflib
import os
import re
import signal
import sys
import textwrap
import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from . import _core
from .catalog import DATA_VARIABLE, Program, data_dir, load_catalog, load_program
from .errors import Contradiction, Error, FileUnreadable, NotAvailable, UnknownColumnWarning, UnknownName, error
from .sheet import Sheet, read

if TYPE_CHECKING:
    import pandas as pd

    from .appraisal import Appraisal
    from .outputs import Output

ALL_APPRAISED, NOT_RUN, SOME_BAD, BROKEN_PIPE = 0, 2, 3, 141
MOST_LISTED = 20
TABLES = {"household": "household-sheet.md", "program": "program-file.md", "results": "results.md"}
DECISIONS = ("pays in cash", "pays with loan", "needs more help", "does not pay", "not suitable", "bad row")

STATUSES = """\
exit status:
  0    all rows are good
  2    nothing could be run; one line on standard error says why
  3    some rows are bad; all others are appraised, and the bad ones stand in the results with what is wrong
  130  stopped by Ctrl-C (129 and 143: by a signal), 141 by a closed pipe; no half file is left
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the command line; returns the exit status."""
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)  # not every system has both, and only the main thread can set them
        with contextlib.suppress(ValueError):
            if number is not None and signal.getsignal(number) == signal.SIG_DFL:
                signal.signal(number, _terminated)
    out: Any = sys.stdout
    if out is None:  # closed by the caller
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115  (for as long as the process lives)
    options = parser().parse_args(arguments)
    try:
        status: int = options.run(options)
        sys.stdout.flush()
        return status
    except Error as failure:
        print(f"warmledger: {failure}", file=sys.stderr)
        return NOT_RUN
    except BrokenPipeError:
        # Python flushes standard output once more at its end; let that go nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    except KeyboardInterrupt as stop:
        print("warmledger: stopped, nothing written", file=sys.stderr)
        return 128 + int(stop.args[0] if stop.args else signal.SIGINT)
    except MemoryError:
        print("warmledger: not enough memory for this sheet", file=sys.stderr)
        return NOT_RUN


def _terminated(number: int, _: Any) -> None:
    raise KeyboardInterrupt(number)


class _Formatter(argparse.RawDescriptionHelpFormatter):
    pass


def parser() -> argparse.ArgumentParser:
    top = argparse.ArgumentParser(
        prog="python -m warmledger",
        description="Whether a solar water heater pays for a household, when, and with which help.",
        epilog=STATUSES
        + f"\nCatalogue files in the folder named by ${DATA_VARIABLE} take the place of the package's own;\n"
        "--data goes first.",
        formatter_class=_Formatter,
    )
    top.add_argument("--version", action="version", version=f"warmledger {_core.version}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def command(name: str, run: Any, text: str, *examples: str) -> argparse.ArgumentParser:
        made = commands.add_parser(
            name,
            help=text,
            description=text[0].upper() + text[1:] + ".",
            epilog="\n  ".join(("examples:" if len(examples) > 1 else "example:", *examples)) + f"\n\n{STATUSES}",
            formatter_class=_Formatter,
        )
        made.set_defaults(run=run)
        return made

    def sheet_options(made: argparse.ArgumentParser, *, program: bool = True, also: str = "") -> None:
        what = f"household sheet: .csv, .xlsx, or - for CSV on standard input{also}"
        made.add_argument("sheet", metavar="SHEET", help=what)
        made.add_argument("--program", metavar="FILE", required=program, help="program file (TOML)")
        made.add_argument("--sheet", dest="page", metavar="NAME", help="sheet of an .xlsx file (default: the first)")
        made.add_argument(
            "--data",
            metavar="DIR",
            help="folder of your own catalogue files; each takes the place of the file of "
            "the same name in the data folder",
        )

    def report_options(made: argparse.ArgumentParser, what: str) -> None:
        made.add_argument("--report", metavar="FILE", help=f"also write {what} (.html), to read and to print")
        made.add_argument(
            "--language", default="en", metavar="CODE", help="language of the report: en or es (default: en)"
        )

    screen = command(
        "screen",
        run_screen,
        "appraise every household of a sheet",
        "python -m warmledger screen households.csv --program program.toml --out results.xlsx --out results.csv",
        "python -m warmledger screen homes.xlsx --sheet 'North end' --program program.toml --out results.csv --force",
        "cat households.csv | python -m warmledger screen - --program program.toml --out - | head",
        "python -m warmledger screen million.parquet --program program.toml --out results.parquet --resume",
    )
    sheet_options(screen, also=", or .csv.gz, .parquet, .arrow part by part")
    screen.add_argument(
        "--out",
        metavar="FILE",
        action="append",
        required=True,
        help="results: .xlsx, .csv, .parquet, or - for CSV on standard output; may be given more than once",
    )
    screen.add_argument(
        "--detail",
        default="hourly",
        metavar="METHOD",
        help="hourly: simulation in steps of 15 minutes; monthly: the X-Y correlation, faster (default: hourly)",
    )
    report_options(screen, "a page about the whole sheet")
    screen.add_argument(
        "--keep",
        metavar="COLUMN",
        nargs="*",
        help="columns of the sheet to add at the right of the results; without names all that the appraisal "
        "does not use",
    )
    screen.add_argument("--threads", type=_threads, metavar="N", help="threads (default: one for each core)")
    screen.add_argument(
        "--stream",
        action="store_true",
        help="read, screen and write part by part, in memory that does not grow with the sheet; one --out, .csv or "
        ".parquet. Always so for .csv.gz, .parquet and .arrow",
    )
    screen.add_argument(
        "--resume",
        action="store_true",
        help="the same, and go on where a run with the same arguments was broken off, also by a kill",
    )
    screen.add_argument(
        "--batch-rows", type=_batch_rows, metavar="N", help="households in a part (default: 20000); implies --stream"
    )
    screen.add_argument("--force", action="store_true", help="replace files that stand there")
    screen.add_argument("--quiet", action="store_true", help="no progress bar and no summary")

    check = command(
        "check",
        run_check,
        "find every problem of a sheet and a program file, and write nothing",
        "python -m warmledger check households.csv --program program.toml",
        "cat households.csv | python -m warmledger check -",
    )
    sheet_options(check, program=False)

    one = command(
        "appraise",
        run_appraise,
        "print one household on a page",
        "python -m warmledger appraise households.csv --program program.toml --id WM-0001",
        "python -m warmledger appraise households.csv --program program.toml --id WM-0001 --exact --out ledger.csv",
        "python -m warmledger appraise households.csv --program program.toml --id WM-0001 --worksheet offer.xlsx",
    )
    sheet_options(one)
    one.add_argument("--id", required=True, metavar="ID", help="household_id of the household")
    one.add_argument("--out", metavar="FILE", help="also write everything as .json, or the ledger as .csv")
    report_options(one, "a page for the household")
    one.add_argument(
        "--worksheet", metavar="FILE", help="also write the offer with one loan as a workbook with formulas (.xlsx)"
    )
    one.add_argument("--loan", metavar="ID", help="loan of the worksheet (default: the best one)")
    one.add_argument("--exact", action="store_true", help="amounts with 50 decimal digits")
    one.add_argument(
        "--detail",
        default="hourly",
        metavar="METHOD",
        help="hourly: simulation in steps of 15 minutes; monthly: the X-Y correlation, faster (default: hourly)",
    )
    one.add_argument("--force", action="store_true", help="replace a file that stands there")

    columns = command(
        "columns",
        run_columns,
        "print the columns of a sheet, the keys of a program file or the columns of results, as Markdown",
        "python -m warmledger columns household",
    )
    columns.add_argument("table", nargs="?", choices=tuple(TABLES), help="which (default: all)")
    columns.add_argument(
        "--write",
        metavar="FOLDER",
        nargs="?",
        const=str(data_dir()),
        help="write the pages to a folder instead (default: the data folder)",
    )
    return top


def _threads(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 1024:
        raise argparse.ArgumentTypeError(f"{text!r} is not allowed; allowed: a whole number, 1 to 1024")
    return int(text)


def _batch_rows(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 1_000_000:
        raise argparse.ArgumentTypeError(f"{text!r} is not allowed; allowed: a whole number, 1 to 1000000")
    return int(text)


def _inputs(options: argparse.Namespace) -> tuple[Sheet, Program]:
    program = load_program(options.program, load_catalog(override=options.data))
    return read(options.sheet, sheet_name=options.page), program


def _report_output(options: argparse.Namespace) -> contextlib.AbstractContextManager[list[Output]]:
    """The way to the file of --report, if it is asked for; a language that is not known is refused before any work."""
    from .outputs import outputs

    if options.report:
        from .publish import check_language

        check_language(options.language)
    files = [options.report] if options.report else []
    return outputs(files, force=options.force, inputs=[options.sheet, options.program], endings=(".html",))


def _worksheet_output(options: argparse.Namespace) -> contextlib.AbstractContextManager[list[Output]]:
    from .outputs import outputs

    files = [options.worksheet] if options.worksheet else []
    return outputs(files, force=options.force, inputs=[options.sheet, options.program], endings=(".xlsx",))


def run_screen(options: argparse.Namespace) -> int:
    from .outputs import outputs, write_csv_to_stdout, write_results
    from .screening import kept_columns, run, unknown_column_messages

    if _is_streamed(options):
        return run_screen_file(options)
    to_stdout = "-" in options.out
    files = [path for path in options.out if path != "-"]
    with (
        outputs(files, force=options.force, inputs=[options.sheet, options.program]) as prepared,
        _report_output(options) as reports,
    ):
        sheet, program = _inputs(options)
        kept = kept_columns(sheet, True if options.keep == [] else options.keep or [])
        screened = run(sheet, program, detail=options.detail, threads=options.threads, progress=not options.quiet)
        from .frames import result_frame

        frame = result_frame(screened, sheet, program, kept)
        for message in unknown_column_messages(screened, sheet.file, kept):
            print(f"note: {message}", file=sys.stderr)
        for output in prepared:
            write_results(output, frame, program, sheet.file)
        for report in reports:
            from .publish import program_report

            program_report(frame, program, report.temporary, language=options.language)
            files.append(report.path)
    if to_stdout:
        write_csv_to_stdout(frame)
    list_problems(screened["problems"], screened["bad_rows"])
    if not options.quiet:
        print_summary(frame, program, files, sys.stderr if to_stdout else sys.stdout)
    return SOME_BAD if screened["bad_rows"] else ALL_APPRAISED


def _is_streamed(options: argparse.Namespace) -> bool:
    from .sources import ENDINGS, ending_of

    return bool(
        options.stream or options.resume or options.batch_rows or ending_of(options.sheet, ENDINGS) not in ("", ".csv")
    )


def run_screen_file(options: argparse.Namespace) -> int:
    """`screen` part by part; results of one file, and a checkpoint beside them."""
    from .streaming import BATCH_ROWS, screen_file

    for key, wrong in (
        ("--out", len(options.out) != 1 or options.out[0] == "-"),
        ("--report", bool(options.report)),
        ("--sheet", bool(options.page)),
        ("SHEET", options.sheet == "-"),
    ):
        if wrong:
            raise error(
                NotAvailable,
                "does not go with a screening part by part",
                allowed="one SHEET that is a file, and one --out that is a .csv or .parquet file",
                key=key,
            )
    program = load_program(options.program, load_catalog(override=options.data))
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always", UnknownColumnWarning)
        try:
            summary = screen_file(
                options.sheet,
                program,
                options.out[0],
                detail=options.detail,
                threads=options.threads,
                batch_rows=options.batch_rows or BATCH_ROWS,
                resume=options.resume,
                overwrite=options.force,
                keep=True if options.keep == [] else options.keep or [],
                progress=not options.quiet,
            )
        except KeyboardInterrupt as stop:
            print("warmledger: stopped; the same command with --resume goes on from here", file=sys.stderr)
            return 128 + int(stop.args[0] if stop.args else signal.SIGINT)
    for warning in told:
        print(f"note: {warning.message}", file=sys.stderr)
    if summary.problems:
        count = summary.bad_rows
        print(f"{count} bad {'row' if count == 1 else 'rows'}, listed in {summary.problems}", file=sys.stderr)
    if not options.quiet:
        print(f"\n{program.title}")
        if program.note:
            print(textwrap.fill(program.note, 100))
        print(f"\n{'decision':<18}{'all':>12}")
        for decision in DECISIONS:
            print(f"{decision:<18}{summary.decisions.get(decision, 0):>12,}")
        print(f"{'all':<18}{summary.rows:>12,}")
        if summary.resumed_rows:
            print(f"\n{summary.resumed_rows:,} of them had been done by the run that was broken off")
        print(f"\nwritten: {summary.out}")
        print("\nThe figures are no lending, tax or legal advice; local codes and licensed practice decide.")
    return SOME_BAD if summary.bad_rows else ALL_APPRAISED


def list_problems(problems: list[dict[str, Any]], bad_rows: int) -> None:
    for problem in problems[:MOST_LISTED]:
        print(problem["sentence"], file=sys.stderr)
    if len(problems) > MOST_LISTED:
        print(f"... and {len(problems) - MOST_LISTED} more problems; all stand in the results", file=sys.stderr)
    if bad_rows:
        print(f"{bad_rows} bad {'row' if bad_rows == 1 else 'rows'}", file=sys.stderr)


def print_summary(frame: pd.DataFrame, program: Program, files: list[str], stream: Any) -> None:
    tiers = [name for name in [*program.tiers, "above"] if (frame["income_tier"] == name).any()]
    width = max(8, *(len(name) for name in tiers)) + 2 if tiers else 10
    print(f"\n{program.title}", file=stream)
    if program.note:
        print(textwrap.fill(program.note, 100), file=stream)
    print(f"\n{'decision':<18}{'all':>8}" + "".join(f"{name:>{width}}" for name in tiers), file=stream)
    for decision in DECISIONS:
        found = frame["decision"] == decision
        parts = (int((found & (frame["income_tier"] == name).fillna(False)).sum()) for name in tiers)
        print(f"{decision:<18}{int(found.sum()):>8,}" + "".join(f"{part:>{width},}" for part in parts), file=stream)
    print(f"{'all':<18}{len(frame):>8,}", file=stream)
    if files:
        print("", file=stream)
    for path in files:
        print(f"written: {path}", file=stream)
    print("\nThe figures are no lending, tax or legal advice; local codes and licensed practice decide.", file=stream)


def run_check(options: argparse.Namespace) -> int:
    from .screening import find_problems, unknown_column_messages

    program = load_program(options.program, load_catalog(override=options.data)) if options.program else None
    sheet = read(options.sheet, sheet_name=options.page)
    found = find_problems(sheet, program)
    for message in unknown_column_messages(found, sheet.file):
        print(f"note: {message}")
    for problem in found["problems"]:
        print(problem["sentence"])
    what = f"{sheet.row_count:,} rows, {found['bad_rows']:,} bad"
    print(what + ("" if options.program else "; places and packages were not checked, for want of --program"))
    return SOME_BAD if found["bad_rows"] else ALL_APPRAISED


def run_columns(options: argparse.Namespace) -> int:
    from .documentation import pages

    chosen = {name: text for name, text in pages().items() if options.table is None or name == TABLES[options.table]}
    if not options.write:
        print("\n".join(chosen.values()), end="")
        return ALL_APPRAISED
    for name, text in chosen.items():
        path = os.path.join(options.write, name)
        try:
            with open(path, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except OSError as failure:
            raise error(
                FileUnreadable,
                f"cannot be written ({failure.strerror})",
                allowed="a folder you may write to",
                file=path,
            ) from None
        print(f"written: {path}")
    return ALL_APPRAISED


def find_household(sheet: Sheet, identifier: str) -> int:
    """Data row of a household, from 1."""
    ids = sheet.column("household_id") or []
    rows = [number for number, cell in enumerate(ids, start=1) if cell == identifier]
    if len(rows) > 1:
        raise error(
            Contradiction,
            f"stands in rows {', '.join(map(str, rows[:10]))}",
            value=identifier,
            allowed="an identifier that stands once",
            file=sheet.file,
            key="household_id",
        )
    if not rows:
        near = difflib.get_close_matches(identifier, [cell for cell in ids if cell], n=1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        raise error(
            UnknownName,
            f"is no household of the sheet{hint}",
            value=identifier,
            allowed=f"one of its {len(ids)} identifiers",
            file=sheet.file,
            key="household_id",
        )
    return rows[0]


def run_appraise(options: argparse.Namespace) -> int:
    from .appraisal import appraise_row
    from .outputs import outputs, write_csv

    files = [options.out] if options.out else []
    with (
        outputs(
            files, force=options.force, inputs=[options.sheet, options.program], endings=(".json", ".csv")
        ) as prepared,
        _report_output(options) as reports,
        _worksheet_output(options) as worksheets,
    ):
        sheet, program = _inputs(options)
        row = find_household(sheet, options.id)
        found = appraise_row(
            sheet.header, sheet.row(row), program, file=sheet.file, row=row, detail=options.detail, exact=options.exact
        )
        for output in prepared:
            if output.ending == ".json":
                with open(output.temporary, "w", encoding="utf-8") as file:
                    file.write(found.to_json(indent=2) + "\n")
            else:
                write_csv(output.temporary, found.ledger())
        for report in reports:
            found.report(report.temporary, options.language)
            files.append(report.path)
        for worksheet in worksheets:
            from .worksheet import write_worksheet

            write_worksheet(worksheet.temporary, found, options.loan)
            files.append(worksheet.path)
    print(page_of(found))
    for path in files:
        print(f"written: {path}")
    return ALL_APPRAISED


def page_of(found: Appraisal) -> str:
    """One household as a page of text."""
    summary = found.summary
    lines = [summary["program_title"], *([summary["program_note"]] if summary["program_note"] else []), ""]
    lines += [f"Household {found.household_id}: {found.decision}", found.reason, ""]
    lines += [f"  {label:<36} {text}" for label, text in found.figures()]
    lines += ["", "Incentives"]
    for _, rule in found.incentives.iterrows():
        sum_ = f"${rule['amount_usd']:,.2f}" if rule["applied"] else "not applied"
        lines.append(f"  {sum_:>12}  {rule['title']}: {rule['reason']}")
    if len(found.loans):
        lines += ["", "Loans (a month = first year's bill saving over 12, less the payment)"]
    for _, loan in found.loans.iterrows():
        average, lowest = float(loan["average_month_usd"]), float(loan["lowest_month_usd"])
        lines.append(
            f"  {loan['title']}: ${loan['amount_usd']:,.2f}, payment ${loan['payment_usd']:,.2f}; "
            f"average month {average:+,.2f}, lowest {lowest:+,.2f} dollars"
        )
    lines += ["", f"Weather: {summary['weather_station']}, {summary['station_distance_km']:.0f} km away"]
    if found.defaults_used:
        lines += ["", "Assumed, because the sheet does not say", *(f"  {text}" for text in found.defaults_used)]
    lines += ["", "Cautions", *(f"  {topic}: {text}" for topic, text in found.cautions)]
    lines += [
        "",
        "These figures are no lending, tax or legal advice. Local codes and licensed practice decide what may be "
        "built and how.",
    ]
    return "\n".join(_wrapped(line) for line in lines)


def _wrapped(line: str) -> str:
    """A line in at most 100 columns; what goes on stands under the text behind its label."""
    if len(line) <= 100:
        return line
    label = re.match(r"  (?: *\$[\d,.]+  | *not applied  |[^:]{36} )", line)
    indent = label.end() if label else 4 if line.startswith("  ") else 0
    return textwrap.fill(line, 100, subsequent_indent=" " * indent, break_on_hyphens=False)
