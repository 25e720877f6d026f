"""The pages about sheets, program files and results, made from the tables that the library validates by."""

from __future__ import annotations

from . import _core

_NOTE = "Made by `python -m warmledger columns --write` from the tables the library works by; not edited by hand."


def pages() -> dict[str, str]:
    """File name and Markdown of each page."""
    return {
        "household-sheet.md": f"""# The household sheet

{_NOTE}

A CSV file (UTF-8, commas) or an XLSX workbook with one row for each household. The header stands in one of the first
ten rows; columns may stand in any order. Units stand in the column names. Numbers may have a leading $ and commas
between groups of three digits. Words of a choice may have capitals, and spaces or hyphens for underscores: Natural gas
is natural_gas. In a column in percent, 25, 25% and a cell shown as 25% are the same; elsewhere a percent sign is
refused. A column that is not listed here is reported and not used; `keep` (`--keep`) adds such columns to the results
as they were. Of a workbook the first sheet is read, or the one that `sheet_name` (`--sheet`) names. Empty rows at the
end are left out; an empty row between others is reported as bad. Messages count households from 1 and name the row of
the file beside it. Identifiers are kept exactly as they are: a CSV of results holds them unchanged, also when a
spreadsheet program would take one for a formula; the workbook holds them as text.

{_core.catalog.household_columns_markdown()}""",
        "program-file.md": f"""# The program file

{_NOTE}

A TOML file. An unknown key, a wrong type or a value out of range is an error that names file, line, key and what is
allowed.

{_core.catalog.program_keys_markdown()}""",
        "results.md": f"""# The results

{_NOTE}

One row for each row of the sheet, in its order. An empty cell is no value.

{_core.screening.result_columns_markdown()}""",
    }
