"""Several Python threads at once, and the same call thousands of times over."""

import subprocess
import sys
import textwrap
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pandas as pd
import pytest
import warmledger as wl
from conftest import household

FUELS = ("electricity", "natural_gas", "propane", "heating_oil")


def homes(count: int, first: int = 0) -> pd.DataFrame:
    """Invented households; every seventh cannot be appraised."""
    return pd.DataFrame(
        household(
            f"H{i}",
            place="Nowhere" if i % 7 == 3 else "Testville",
            occupants=1 + i % 6,
            yearly_income_usd=12_000 + 1_700 * (i % 31),
            heater_fuel=FUELS[i % 4],
        )
        for i in range(first, first + count)
    )


def at_once(work: Callable[[int], Any], count: int = 6) -> list[Any]:
    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(work, range(count)))


@pytest.mark.parametrize(("detail", "rows"), [("monthly", 150), ("hourly", 40)])
def test_screenings_at_once_are_those_one_by_one(program: wl.Program, detail: str, rows: int) -> None:
    def work(k: int) -> bytes:
        frame = wl.screen(homes(rows, k), program, detail=detail, threads=1 + k % 3, progress=False)
        return frame.to_csv(float_format="%.17g").encode()

    one_by_one = [work(k) for k in range(6)]
    assert len(set(one_by_one)) == 6
    assert at_once(work) == one_by_one


def test_appraisals_at_once_are_those_one_by_one(program: wl.Program) -> None:
    def work(k: int) -> list[str]:
        texts = []
        for row in homes(14, k).to_dict("records"):
            try:
                texts.append(wl.appraise(row, program, detail="monthly", exact=k == 5).to_json())
            except wl.errors.Error as error:
                texts.append(str(error))
        texts.append(wl.appraise(household(occupants=1 + k), program).to_json())
        return texts

    one_by_one = [work(k) for k in range(6)]
    assert any("Nowhere" in text for text in one_by_one[0])
    assert at_once(work) == one_by_one


def test_threads_may_read_one_appraisal_and_change_one_program(program: wl.Program) -> None:
    shared = wl.appraise(household(), program, detail="monthly")
    assert len(set(at_once(lambda _: shared.to_json()))) == 1

    def cost(k: int) -> float:
        changed = program.changed({"package.two-collectors.material_usd": 1000 + 100 * k})
        return float(wl.appraise(household(), changed, detail="monthly").measures.installed_cost_usd)

    assert at_once(cost) == [2800 + 100 * k for k in range(6)]


# Ten thousand of what the library does; fewer of what is Python's time for the most part.
CALLS = {"appraise": 10_000, "refused": 2_000, "screen_alone": 10_000, "screen": 500, "changed": 2_000}
LEAKS = """
    import gc, resource, sys
    sys.path.insert(0, sys.argv[1])
    import pandas as pd
    import warmledger as wl
    from conftest import PROGRAM, household

    program = wl.parse_program(PROGRAM, "test.toml")
    frame = pd.DataFrame([household("A"), household("B", occupants=99), household("C", heater_fuel="propane")])

    def appraise(i):
        one = wl.appraise(household(occupants=1 + i % 6), program, detail="monthly")
        if i % 50 == 0:
            one.to_dict()

    def refused(i):
        try:
            wl.appraise(household(place=f"Nowhere {i}"), program, detail="monthly")
        except wl.errors.Error:
            return
        raise SystemExit("a place that is none was taken")

    def screen(i):
        wl.screen(frame, program, detail="monthly", threads=1, progress=False)

    header = list(frame.columns)
    columns = [[str(cell) for cell in frame[name]] for name in header]

    def screen_alone(i):
        # what wl.screen asks of the extension module, without making a frame of it
        wl._core.screening.screen(program.appraiser, header, columns, "", "monthly", 1, None)

    def changed(i):
        program.changed({"study_years": 10 + i % 20})

    def resident_kb():
        with open("/proc/self/statm") as file:
            return int(file.read().split()[1]) * resource.getpagesize() // 1024

    for name, calls in CALLS.items():
        call = globals()[name]
        for i in range(calls // 10):
            call(i)
        gc.collect()
        objects, memory = len(gc.get_objects()), resident_kb()
        for i in range(calls):
            call(i)
        gc.collect()
        print(name, calls, len(gc.get_objects()) - objects, resident_kb() - memory)
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="resident memory is read from /proc")
def test_thousands_of_calls_leave_nothing_behind() -> None:
    script = f"CALLS = {CALLS}\n" + textwrap.dedent(LEAKS)
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", script, str(__file__).rsplit("/", 1)[0]],
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    lines = [line.split() for line in done.stdout.splitlines()]
    assert [line[0] for line in lines] == list(CALLS)
    for name, calls, objects, kilobytes in lines:
        # One object left a call would be hundreds; a hundred bytes a call are a megabyte of 10,000 calls.
        assert int(objects) < 100, (name, objects)
        assert int(kilobytes) < 1000, (name, calls, kilobytes)
