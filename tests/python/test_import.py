"""What `import warmledger` loads: itself, and none of the libraries that only some of its functions need."""

import subprocess
import sys

import pytest
import warmledger as wl

HEAVY = ("numpy", "pandas", "matplotlib", "scipy", "jinja2", "markupsafe", "openpyxl", "xlsxwriter", "tqdm", "dask")


def in_new_interpreter(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, stdin=subprocess.DEVNULL)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_import_loads_no_heavy_library():
    loaded = in_new_interpreter("import sys, warmledger; print(*(name.partition('.')[0] for name in sys.modules))")
    assert "warmledger" in loaded.split()
    assert not set(HEAVY) & set(loaded.split())


def test_reading_a_program_and_the_catalogue_needs_no_frame_library():
    code = """
import sys, warmledger as wl
wl.load_program(wl.data_dir() / "demo" / "program.toml")
print(*sys.modules)
"""
    assert not {"pandas", "matplotlib", "jinja2"} & set(in_new_interpreter(code).split())


def test_every_public_name_is_there_from_the_start():
    code = "import warmledger as wl; print(*sorted(set(wl.__all__) - set(dir(wl))));"
    assert in_new_interpreter(code).split() == []
    for name in wl.__all__:
        assert getattr(wl, name) is not None


def test_star_import_brings_every_public_name():
    code = "from warmledger import *; import warmledger; print(sorted(set(warmledger.__all__) - set(globals())))"
    assert in_new_interpreter(code).strip() == "[]"


def test_a_name_that_is_not_there():
    with pytest.raises(AttributeError, match="'warmledger' has no attribute 'appraize'"):
        _ = wl.appraize
