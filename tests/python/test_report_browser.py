"""The pages in headless Chromium: no errors, no network, accessibility rules of axe-core, two pages of paper."""

import contextlib
import html
import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path
from typing import Any

import pytest
import warmledger as wl

pytest.importorskip("jinja2", reason="Jinja2 is not installed")

from pages import browse, chromium
from warmledger.appraisal import appraise_row
from warmledger.program_page import program_page
from warmledger.report import household_page
from warmledger.sheet import read as read_sheet

pytestmark = pytest.mark.skipif(chromium() is None, reason="Chromium is not installed")

DEMO = wl.data_dir() / "demo"
ROWS = {"en": (2, 10), "es": (8,)}  # pays in cash, pays with loan; not suitable
POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>')


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Pages by name: households with different answers, and the whole sheet, in both languages."""
    program = wl.load_program(DEMO / "program.toml")
    sheet = read_sheet(DEMO / "households.csv")
    found = {}
    results = wl.screen(DEMO / "households.csv", program, progress=False, detail="monthly")
    for language in ("en", "es"):
        for row in ROWS[language]:
            one = appraise_row(sheet.header, sheet.row(row), program)
            found[f"{row}-{language}"] = household_page(one, language)
        found[f"sheet-{language}"] = program_page(results, program, language)
    return found


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / f"{name}.html"
    path.write_text(text, encoding="utf-8")
    return path


def framed(pages: dict[str, str], script: str) -> str:
    """A page that holds others in frames and runs `script` when all are loaded; it sees their errors."""
    frames = "".join(
        f'<iframe title="{name}" width="1280" height="3000" srcdoc="{html.escape(POLICY.sub("", page))}"></iframe>'
        for name, page in pages.items()
    )
    return (
        f"<!DOCTYPE html><html lang='en'><title>frames</title><body>{frames}<pre id='out'></pre>{script}</body></html>"
    )


def test_opens_without_errors_and_without_the_network(pages: dict[str, str], tmp_path: Path) -> None:
    path = write(tmp_path, "page", pages["8-es"])
    run = browse(path, "--enable-logging=stderr", "--v=0", "--dump-dom")
    assert run.returncode == 0, run.stderr[-2000:]
    assert "Agua caliente solar para el hogar" in run.stdout
    assert "CONSOLE" not in run.stderr, run.stderr[-2000:]
    assert not re.search(r"(?:https?:)?//", POLICY.sub("", pages["8-es"]).replace("<!DOCTYPE html>", ""))


# Where axe-core can be had: the npm registry, or a package of PyPI that holds the same file.
SOURCES = (
    (["npm", "pack", "axe-core@4", "--silent", "--fetch-retries=0"], "axe-core-*.tgz"),
    (
        [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--retries=0", "axe-playwright-python"],
        "axe_playwright_python-*.whl",
    ),
)


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The script of axe-core."""
    folder = tmp_path_factory.mktemp("axe")
    for command, packed in SOURCES:
        if shutil.which(command[0]) is None:
            continue
        environment = {**os.environ, "npm_config_cache": str(folder / "cache")}
        with contextlib.suppress(subprocess.TimeoutExpired):
            subprocess.run(
                command, cwd=folder, env=environment, stdin=subprocess.DEVNULL, capture_output=True, timeout=60
            )
        for archive in folder.glob(packed):
            if archive.suffix == ".whl":
                return zipfile.ZipFile(archive).read("axe_playwright_python/axe.min.js").decode("utf-8")
            with tarfile.open(archive) as opened:
                member = opened.extractfile("package/axe.min.js")
                assert member is not None
                return member.read().decode("utf-8")
    pytest.skip("neither the npm registry nor PyPI was reached, so axe-core cannot be had")


RUN_AXE = """
addEventListener("load", async () => {
  const found = {};
  for (const frame of document.querySelectorAll("iframe")) {
    const inner = frame.contentWindow;
    inner.eval(source);
    const result = await inner.axe.run(inner.document, {iframes: false});
    found[frame.title] = {
      passes: result.passes.length,
      violations: result.violations.map(v => [v.id, v.impact, v.nodes.map(n => n.html.slice(0, 200))]),
    };
  }
  document.getElementById("out").textContent = "RESULT" + JSON.stringify(found) + "END";
});
"""


def results_of(dumped: str) -> Any:
    found = re.search(r"RESULT(\{.*\})END</pre>", dumped, re.DOTALL)
    assert found, dumped[-2000:]
    return json.loads(html.unescape(found[1]))


def test_accessibility_rules(pages: dict[str, str], axe: str, tmp_path: Path) -> None:
    # A page with faults shows that the rules are looked at.
    faulty = (
        pages["2-en"].replace('lang="en"', "").replace("color: #1a1a1a", "color: #dddddd").replace(' scope="col"', "")
    )
    source = json.dumps(axe).replace("</", "<\\/")
    script = f"<script>const source = {source};{RUN_AXE}</script>"
    path = write(tmp_path, "frames", framed({**pages, "faulty": faulty}, script))
    run = browse(path, "--window-size=1400,2000", "--virtual-time-budget=60000", "--dump-dom")
    found = results_of(run.stdout)
    assert set(found) == {*pages, "faulty"}
    rules = {rule for rule, _, _ in found.pop("faulty")["violations"]}
    assert {"html-has-lang", "color-contrast"} <= rules
    for name, one in found.items():
        assert one["passes"] > 20, name
        assert one["violations"] == [], (name, one["violations"])


@pytest.mark.parametrize("paper", ["letter", "A4"])
def test_prints_on_two_pages(pages: dict[str, str], tmp_path: Path, paper: str) -> None:
    if shutil.which("pdfinfo") is None:
        pytest.skip("poppler-utils is not installed")
    # The longest pages; letter is the shorter paper.
    for name in ("8-es", "sheet-es") if paper == "letter" else ("8-es",):
        page = pages[name].replace("@page {", f"@page {{ size: {paper};")
        assert page != pages[name]
        pdf = tmp_path / f"{name}-{paper}.pdf"
        run = browse(write(tmp_path, f"{name}-{paper}", page), "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
        assert run.returncode == 0, run.stderr[-2000:]
        told = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True, check=True).stdout
        assert re.search(r"^Pages: +2$", told, re.MULTILINE), told
        assert ("letter" in told.lower()) == (paper == "letter")


def test_fits_a_narrow_screen(pages: dict[str, str], tmp_path: Path) -> None:
    script = """<script>
addEventListener("load", () => {
  const found = {};
  for (const frame of document.querySelectorAll("iframe")) {
    const root = frame.contentDocument.documentElement;
    found[frame.title] = [root.scrollWidth, root.clientWidth];
  }
  document.getElementById("out").textContent = "RESULT" + JSON.stringify(found) + "END";
});
</script>"""
    text = framed(pages, script).replace('width="1280"', 'width="390"')
    run = browse(write(tmp_path, "narrow", text), "--virtual-time-budget=5000", "--dump-dom")
    for name, (needed, there) in results_of(run.stdout).items():
        assert there >= 370, name
        assert needed <= there, name
