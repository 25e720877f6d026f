"""The monthly screening of a household in plain NumPy. Benchmarks stand beside it, and a test holds the library to it.

    from plain_pipeline import County, appraise
    county = County("data", "data/demo/program.toml")
    appraise({"household_id": "A", "place": "Quillmere", ...}, county)      # -> figures by result column

A second writing from the published formulas and the project's pages, for reading: one household at a time, arrays over
the months of a year or of the study, every step in its own function. It settles the defaults of a household itself and
reads the program file and the catalogues itself; nothing of warmledger is imported.
`tests/python/test_plain_pipeline.py` compares both on the demo county: dollars to the cent, fractions to 1e-9.

It knows what the demo program uses, and refuses the rest by name (Unsupported): places of the program, two-tank
packages, flat prices, rebates and one county tax credit with carryforward, level monthly loans. It leaves out what is
text (reasons, cautions), the cost tests, and the household's own bills.
"""

from __future__ import annotations

import csv
import datetime
import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

Array = np.ndarray[Any, Any]
Row = Mapping[str, str]
Figures = dict[str, Any]

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
AVERAGE_DAY = np.array([17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344])  # Klein 1977
FUELS = ("electricity", "natural_gas", "propane", "heating_oil")
UNITS = ("kwh", "therm", "gal", "gal")
KWH_PER_BTU = 1055.05585262 / 3.6e6
LITRE_PER_GALLON = 3.785411784
M2_PER_FT2 = 0.09290304
ROOM_C = (67.5 - 32) * 5 / 9  # air around the tank at the rating condition, 10 CFR 430 subpart B appendix E

RULE_WORDS = {"id", "title", "payer", "paid_by", "citation", "standing", "tax", "arrival", "refundable", "valid_from"}
RULE_KEYS = RULE_WORDS | {
    *("kind", "flat_usd", "share_of_cost", "usd_per_ft2", "cap_usd", "valid_to", "most_income_share", "tenures"),
    *("fuels", "base_less", "arrival_months", "carryforward_years"),
}
LOAN_KEYS = {"id", "title", "yearly_rate", "term_months", "largest_usd"}
OWN_BILLS = ("water_heating_units", "water_heating_bill_usd", "home_fuel_units", "home_fuel_bill_usd")


class Unsupported(ValueError):  # noqa: N818 (read beside pytest.raises and except)
    """The household or program uses something that this pipeline leaves out."""


def _table(path: Path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


class County:
    """A program file and the catalogues beside it, and what all households share: the months of the study."""

    def __init__(self, data: str | Path, program: str | Path) -> None:
        data = Path(data)
        with open(program, "rb") as file:
            self.program = tomllib.load(file)
        self.stations = _table(data / "climates.csv")
        self.heaters = _table(data / "heaters.csv")
        self.collectors = {row["id"]: row for row in _table(data / "collectors.csv")}
        self.fuels = {row["fuel"]: row for row in _table(data / "fuels.csv")}
        self.places = {place["name"].lower(): self._station(place) for place in self.program["place"]}
        self.install: datetime.date = self.program["install_date"]
        self.rules = self._rules(data)
        for loan in self.program.get("loan", []):
            if set(loan) - LOAN_KEYS:
                raise Unsupported(f"loan {loan['id']}: {sorted(set(loan) - LOAN_KEYS)}")

        economics = self.program["economics"]
        self.years: int = self.program["study_years"]
        self.months = self.years * 12
        self.discount_rate: float = economics["nominal_discount_rate"]
        self.inflation: float = economics["inflation_rate"]
        self.month = np.arange(self.months + 1)
        self.discount = (1 + self.discount_rate) ** (-self.month / 12)
        # For internal rates: present values at many monthly factors at once.
        self.factors = np.linspace(0.5, 1.2, 701)
        self.powers = self.factors[:, None] ** self.month

    def _station(self, place: Mapping[str, float]) -> dict[str, Any]:
        """The weather station nearest to a place, by the arc between them."""
        position = np.radians([[float(s["latitude_deg"]), float(s["longitude_deg"])] for s in self.stations])
        lat, lon = np.radians([place["latitude_deg"], place["longitude_deg"]])
        cosine = np.sin(lat) * np.sin(position[:, 0]) + np.cos(lat) * np.cos(position[:, 0]) * np.cos(
            position[:, 1] - lon
        )
        row = self.stations[int(cosine.argmax())]

        def months(name: str) -> Array:
            return np.array([float(row[f"{name}_{m:02}"]) for m in range(1, 13)])

        return {
            "latitude_deg": float(row["latitude_deg"]),
            "horizontal": months("horizontal_kwh_m2_day"),
            "air_c": months("dry_bulb_c"),
            "cold_c": mains_c(months("dry_bulb_c")),
            "albedo": months("ground_albedo") if row["ground_albedo_01"] else np.full(12, 0.2),  # common practice
        }

    def _rules(self, data: Path) -> list[dict[str, Any]]:
        """The incentives that hold on the install date, rebates before credits, and those by id."""
        rules = list(self.program.get("incentive", []))
        for name in self.program.get("jurisdictions", []):
            rules += tomllib.loads((data / "incentives" / f"{name}.toml").read_text(encoding="utf-8"))["incentive"]
        held = [
            rule
            for rule in rules
            if rule.get("valid_from", self.install) <= self.install <= rule.get("valid_to", self.install)
        ]
        for rule in held:
            if set(rule) - RULE_KEYS or rule["kind"] not in ("rebate", "credit"):
                raise Unsupported(f"incentive {rule['id']}: {rule['kind']}, {sorted(set(rule) - RULE_KEYS)}")
            if rule["kind"] == "credit" and (rule.get("tax") != "local" or rule.get("refundable")):
                raise Unsupported(f"incentive {rule['id']}: a credit that is not the county's")
        return sorted(held, key=lambda rule: (rule["kind"] == "credit", rule["id"]))


# --- sun, mains water and heat ---


def tilted_kwh_m2_day(station: Mapping[str, Any], tilt_deg: float, azimuth_deg: float) -> Array:
    """Monthly mean irradiation on a plane under an even sky: Liu & Jordan 1962, Klein 1977, Erbs et al. 1982."""
    lat, tilt, azimuth = np.radians([station["latitude_deg"], tilt_deg, azimuth_deg])
    sun = np.radians(23.45) * np.sin(2 * np.pi * (284 + AVERAGE_DAY) / 365)
    sunset = np.arccos(np.clip(-np.tan(lat) * np.tan(sun), -1, 1))
    on_top = np.cos(lat) * np.cos(sun) * np.sin(sunset) + sunset * np.sin(lat) * np.sin(sun)
    extraterrestrial = 1.367 * (1 + 0.033 * np.cos(2 * np.pi * AVERAGE_DAY / 365)) * 24 / np.pi * on_top

    k = np.clip(station["horizontal"] / extraterrestrial, 0.3, 0.8)
    diffuse = np.where(
        np.degrees(sunset) <= 81.4,
        1.391 - 3.560 * k + 4.189 * k**2 - 2.137 * k**3,
        1.311 - 3.022 * k + 3.427 * k**2 - 1.821 * k**3,
    )
    # Cosine of incidence over the day: a + b cos w + c sin w, summed where it is positive and the sun is up.
    a = np.sin(sun) * (np.sin(lat) * np.cos(tilt) - np.cos(lat) * np.sin(tilt) * np.cos(azimuth))
    b = np.cos(sun) * (np.cos(lat) * np.cos(tilt) + np.sin(lat) * np.sin(tilt) * np.cos(azimuth))
    c = np.cos(sun) * np.sin(tilt) * np.sin(azimuth)
    noon = np.arctan2(c, b)
    half = np.arccos(np.clip(-a / np.hypot(b, c), -1, 1))
    beam = np.zeros(12)
    for turn in (-2 * np.pi, 0, 2 * np.pi):
        rise = np.maximum(-sunset, noon + turn - half)
        sink = np.maximum(rise, np.minimum(sunset, noon + turn + half))
        beam += a * (sink - rise) + b * (np.sin(sink) - np.sin(rise)) - c * (np.cos(sink) - np.cos(rise))
    ratio = beam / (2 * on_top)
    sky, ground = (1 + np.cos(tilt)) / 2, (1 - np.cos(tilt)) / 2
    return station["horizontal"] * ((1 - diffuse) * ratio + diffuse * sky + station["albedo"] * ground)


def mains_c(air: Array) -> Array:
    """Monthly mean cold water temperature: Burch & Christensen 2007, which is in degrees Fahrenheit."""
    mean_f = (air * DAYS).sum() / 365 * 9 / 5 + 32
    span_f = (air.max() - air.min()) * 9 / 5
    day = np.arange(1, 366)
    lag = 35 - (mean_f - 44)
    swing = np.sin(np.radians(0.986 * (day - 15 - lag) - 90))
    each_f = mean_f + 6 + (0.4 + 0.01 * (mean_f - 44)) * span_f / 2 * swing
    each_c = np.maximum(0, (each_f - 32) * 5 / 9)
    return np.add.reduceat(each_c, DAYS.cumsum() - DAYS) / DAYS


def heat_kwh_per_litre(set_c: float, cold_c: Array) -> Array:
    """Heat of a litre, measured hot, from cold to hot; density and enthalpy of water fitted to IAPWS-IF97."""

    def enthalpy(t: Any) -> Any:
        return 0.1274496 + 4.20379301 * t - 5.81308628e-4 * t**2 + 4.4429786e-6 * t**3

    density = 1000.10582 + 0.014481781 * set_c - 0.00589888087 * set_c**2 + 1.60950532e-5 * set_c**3
    result: Array = density / 1000 * (enthalpy(set_c) - enthalpy(cold_c)) / 3600
    return result


def heater_of(row: Row, county: County) -> dict[str, float]:
    """Recovery efficiency, loss and input of the heater from its uniform energy factor: Lutz et al. 1998."""
    kind = row.get("heater_kind") or "storage"
    life = county.program["heater"]["life_years"]
    age = float(row.get("heater_age_years") or life / 2)
    known = [
        e
        for e in county.heaters
        if e["kind"] == kind and e["fuel"] == row["heater_fuel"] and float(e["least_age_years"]) <= age
    ]
    if not known:
        raise Unsupported(f"a {kind} heater on {row['heater_fuel']}")
    entry = max(known, key=lambda e: float(e["least_age_years"]))
    own = row.get("heater_uniform_energy_factor")
    factor = float(own or entry["uniform_energy_factor"])
    input_w = float(entry["input_w"]) if entry["input_w"] else float(entry["input_btu_h"]) * KWH_PER_BTU * 1000
    heater = {"years_left": max(0.0, life - age), "input_w": input_w, "recovery": factor, "loss_w_k": 0.0}
    if kind == "instantaneous":
        return heater
    recovery = float(entry["recovery_efficiency"])
    if own and factor > 0.95 * recovery:
        recovery = factor / 0.95 if kind == "heat_pump" else min(1, factor / 0.95)
    if factor >= recovery:
        raise Unsupported(f"a {kind} heater with the factor {factor}")
    # The federal test day: 55 gallons from 58 to 125 F, tank 57.5 F above the room.
    heat_btu = 55 * 8.293752 * 1.000743 * (125 - 58)
    input_btu_h = input_w / KWH_PER_BTU / 1000
    idle_h = 24 - heat_btu / (recovery * input_btu_h)
    loss_btu_h = heat_btu * (1 / factor - 1 / recovery) / idle_h
    heater["recovery"] = recovery
    heater["loss_w_k"] = loss_btu_h / 57.5 * KWH_PER_BTU * 1000 * 9 / 5
    return heater


def energy_in_kwh_day(heater: Mapping[str, float], heat_kwh: Array, tank_c: float) -> Array:
    """The daily energy equation of a tank heater (Lutz et al. 1998)."""
    loss_w = heater["loss_w_k"] * max(0.0, tank_c - ROOM_C)
    return heat_kwh / heater["recovery"] * (1 - loss_w / heater["input_w"]) + 24 * loss_w / 1000


def year_of(home: Figures, package: Mapping[str, Any], county: County) -> dict[str, Array]:
    """Energies of twelve months by the X-Y correlation: Klein, Beckman & Duffie 1976; EN 15316-4-3 method B."""
    station, heater, set_c = home["station"], home["heater"], home["set_c"]
    collector = county.collectors[package["collector"]]
    area = float(collector["gross_area_m2"]) * package["collector_count"]
    cold, sun = station["cold_c"], home["sun"]
    heat_day = home["litre_day"] * heat_kwh_per_litre(set_c, cold)
    load = heat_day * DAYS

    # Pipes before and after the collectors lower the test line, a heat exchanger the area that counts.
    flow = package.get("flow_kg_s_m2", 0.015) * area * (4180 if package["loop"] == "drain_back" else 3645)
    pipe_ua = package.get("pipe_ua_w_k", 8)
    each = pipe_ua / 2 / flow
    gain = float(collector["optical_efficiency"]) / (1 + each)
    loss = (float(collector["loss_w_m2k"]) * (1 - each) + pipe_ua / area) / (1 + each)
    counted = area / (1 + area * loss / flow * (1 / package["exchanger_effectiveness"] - 1))
    litre_per_m2 = np.clip(package["storage_gal"] * LITRE_PER_GALLON / area, 37.5, 300)
    air = station["air_c"]
    x = counted * loss * (100 - air) * 24 * DAYS / (1000 * load)
    x *= (litre_per_m2 / 75) ** -0.25 * (11.6 + 1.18 * set_c + 3.86 * cold - 2.32 * air) / (100 - air)
    x = np.minimum(x, 18)
    y = counted * gain * float(collector["mean_incidence_factor"]) * sun * DAYS / load
    fraction = np.clip(1.029 * y - 0.065 * x - 0.245 * y**2 + 0.0018 * x**2 + 0.0215 * y**3, 0, 1)

    return {
        "load": load,
        "solar": fraction * load,
        "without": energy_in_kwh_day(heater, heat_day, set_c) * DAYS,
        "backup": energy_in_kwh_day(heater, heat_day * (1 - fraction), set_c) * DAYS,
        "pump": package["pump_w"] / 1000 * 2000 * sun * DAYS / (sun * DAYS).sum(),
        "area": np.array(area),
    }


# --- the household ---


def settle(row: Row, county: County) -> Figures:
    """The household with its defaults."""
    for column in OWN_BILLS:
        if row.get(column):
            raise Unsupported(f"{column}: own bills are left out")
    if row["place"].lower() not in county.places:
        raise Unsupported(f"place {row['place']!r}: only places of the program are known")

    def number(column: str, default: float) -> float:
        return float(row.get(column) or default)

    occupants = int(row["occupants"])
    prices = {}
    for fuel, unit in zip(FUELS, UNITS, strict=True):
        own = row.get(f"{fuel}_price_usd_per_{unit}")
        prices[fuel] = float(own or county.program["prices"][fuel]["usd_per_unit"])
    off_south = (number("roof_azimuth_deg", 180) - 180 + 180) % 360 - 180
    station = county.places[row["place"].lower()]
    tilt = math.degrees(math.atan2(number("roof_pitch_rise_in_12", 6), 12))
    azimuth = 180.0 if off_south == -180 else off_south
    shading = number("shading_pct", 0) / 100
    return {
        "station": station,
        "sun": tilted_kwh_m2_day(station, tilt, azimuth) * (1 - shading),
        "heater": heater_of(row, county),
        "fuel": row["heater_fuel"],
        "prices": prices,
        "occupants": occupants,
        "income": float(row["yearly_income_usd"]),
        "tenure": row.get("tenure") or "owner",
        "set_c": (number("set_temperature_f", 125) - 32) * 5 / 9,
        "litre_day": number("hot_water_gal_day", 20 * occupants) * LITRE_PER_GALLON,
        "tilt_deg": tilt,
        "azimuth_deg": azimuth,
        "shading": shading,
        "roof_m2": number("roof_area_ft2", math.inf) * M2_PER_FT2,
        "bills": float(row["yearly_energy_bills_usd"]) if row.get("yearly_energy_bills_usd") else None,
        "quote": float(row["installed_cost_usd"]) if row.get("installed_cost_usd") else None,
        "package": row.get("package") or None,
    }


def size_percent(persons: int) -> int:
    """Household-size factor of income limits, 12 CFR 1282.17."""
    return (70, 80, 90, 100)[persons - 1] if persons <= 4 else 100 + 8 * (persons - 4)


def income_limit(share: float, persons: int, county: County) -> float:
    """Share of the area median for a household's size, rounded up to the program's step; in whole numbers."""
    rules = county.program["income"]
    if rules["rounding"] != "up":
        raise Unsupported("income limits that are not rounded up")
    step = rules["round_to_usd"]
    exact = round(rules["area_median_income_usd"] * 100) * round(share * 1_000_000) * size_percent(persons)
    unit = step * 100 * 1_000_000 * 100
    return -(-exact // unit) * step


# --- money ---


def cents(usd: float) -> float:
    """Half up; what binary fractions leave just below a half cent counts as one."""
    return math.copysign(math.floor(abs(usd) * 100 + 0.5 + 1e-7) / 100, usd)


def cents_up(usd: float) -> float:
    whole = math.floor(usd * 100)
    return (whole + 1 if usd * 100 - whole > 1e-7 else whole) / 100


def incentives(home: Figures, cost: float, area_m2: float, county: County) -> list[tuple[int, float]]:
    """What each rule pays, as (month after the install date, dollars)."""
    awards: list[tuple[int, float]] = []
    paid: dict[str, float] = {}
    left = cost
    for rule in county.rules:
        name = rule["id"]
        paid[name] = 0.0
        if home["tenure"] not in rule.get("tenures", [home["tenure"]]):
            continue
        if home["fuel"] not in rule.get("fuels", [home["fuel"]]):
            continue
        most = rule.get("most_income_share")
        if most is not None and home["income"] > income_limit(most, home["occupants"], county):
            continue
        base = cents(max(0.0, cost - sum(paid[other] for other in rule.get("base_less", []))))
        amount = (
            rule.get("flat_usd", 0)
            + rule.get("share_of_cost", 0) * base
            + rule.get("usd_per_ft2", 0) * area_m2 / M2_PER_FT2
        )
        amount = cents(min(amount, rule.get("cap_usd", math.inf)))
        if rule["kind"] == "rebate":
            given = cents(min(amount, left))
            payments = [(rule.get("arrival_months", 0), given)] if given > 0 else []
        else:
            # Each year at most the county's tax; what finds no tax waits its years. Paid on 15 April of the next year.
            tax = county.program["tax"]
            liability = cents(tax["local_rate"] * max(0.0, home["income"] - tax["local_deduction_usd"]))
            payments = []
            waiting = amount
            for year in range(1 + rule.get("carryforward_years", 0)):
                taken = cents(min(waiting, liability, left - sum(usd for _, usd in payments)))
                if taken > 0:
                    payments.append((months_until(county.install, county.install.year + year + 1, 4, 15), taken))
                waiting = cents(waiting - taken)
        paid[name] = sum(usd for _, usd in payments)
        left = cents(left - paid[name])
        awards += payments
    return awards


def months_until(install: datetime.date, year: int, month: int, day: int) -> int:
    """Months to the first monthly day of the install date on or after a date."""
    return (year - install.year) * 12 + month - install.month + (day > install.day)


def by_bills(calendar: Array, install: datetime.date) -> Array:
    """A calendar year as twelve bills from the install date, each month shared by days."""
    over = np.minimum(1, (install.day - 1) / DAYS)
    at = (install.month - 1 + np.arange(12)) % 12
    after = (at + 1) % 12
    bills: Array = (1 - over[at]) * calendar[at] + over[after] * calendar[after]
    return bills


def every_month(bills: Array, escalation: float, until_year: int, county: County) -> Array:
    """Bills of year 1 over the study, dearer each year; month 0 has none."""
    flows = np.zeros(county.months + 1)
    year = np.arange(county.months) // 12
    flows[1:] = np.where(year < until_year, np.tile(bills, county.years) * (1 + escalation) ** year, 0)
    return flows


def heater_flows(years_left: float, county: County) -> tuple[Array, float]:
    """Replacements of the existing heater, and what the last is worth at the end; the same with and without."""
    rules = county.program["heater"]
    price, life = rules["replacement_usd"], rules["life_years"]
    flows = np.zeros(county.months + 1)
    at = years_left
    while at < county.years:
        month = math.floor(at * 12 + 0.5)
        flows[month] -= price * (1 + county.inflation) ** (month / 12)
        at += life
    age = county.years - (at - life)
    return flows, price * min(1, max(0, 1 - age / life)) * (1 + county.inflation) ** county.years


def crossings(flows: Array) -> tuple[float | None, float | None]:
    """Years until the running sum first reaches zero, and until it does so for good."""
    total = flows.cumsum()
    if total[-1] < 0 and (total < 0).all():
        return None, None
    up = np.flatnonzero((total[:-1] < 0) & (total[1:] >= 0))
    at = (up - total[up] / flows[up + 1]) / 12
    first = 0.0 if total[0] >= 0 else float(at[0])
    if total[-1] < 0:
        return first, None
    return first, float(at[-1]) if len(at) else 0.0


def internal_rate(flows: Array, county: County) -> float | None:
    """The one yearly rate at which the flows are worth nothing; None where there is none or more than one."""
    worth = county.powers @ flows
    places = np.flatnonzero(worth[:-1] * worth[1:] < 0)
    if len(places) != 1:
        return None
    low, high = county.factors[places[0]], county.factors[places[0] + 1]
    sign = worth[places[0]]
    for _ in range(60):
        middle = (low + high) / 2
        if sign * (middle**county.month @ flows) > 0:
            low = middle
        else:
            high = middle
    return float(low**-12 - 1)


def level_loan(amount: float, yearly_rate: float, term_months: int) -> tuple[float, Array]:
    """Level payment and every payment of a loan whose interest is rounded to the cent each month."""
    rate = yearly_rate / 12
    owed = round(amount * 100)  # whole cents
    level = math.floor(owed * rate / (1 - (1 + rate) ** -term_months) + 0.5 + 1e-7)
    payments = []
    for number in range(1, term_months + 1):
        due = owed + math.floor(owed * rate + 0.5 + 1e-7)
        paid = due if number == term_months or due < level else level
        owed = due - paid
        payments.append(paid)
        if owed == 0:
            break
    return level / 100, np.array(payments) / 100


# --- one package, then the household ---


def with_package(row: Row, home: Figures, package: Mapping[str, Any], county: County) -> Figures:
    """Every figure of the household with one package."""
    if package["arrangement"] != "two_tank":
        raise Unsupported(f"package {package['id']}: {package['arrangement']}")
    program, fuel = county.program, home["fuel"]
    year = year_of(home, package, county)
    kwh_per_unit = {"electricity": 1.0} | {
        f: float(county.fuels[f]["heat_mmbtu_per_unit"]) * 1e6 * KWH_PER_BTU for f in FUELS[1:]
    }
    out: Figures = {"package": package["id"]}
    out["load_kwh"] = year["load"].sum()
    out["solar_fraction_pct"] = 100 * year["solar"].sum() / year["load"].sum()
    out["fuel_saved_pct"] = 100 * (1 - year["backup"].sum() / year["without"].sum())
    units = {name: year[name] / kwh_per_unit[fuel] for name in ("without", "backup")}
    out["fuel_saved"] = (units["without"] - units["backup"]).sum()
    out["pump_kwh"] = year["pump"].sum()

    def co2_kg(kwh: float, of: str) -> float:
        if of == "electricity":
            return kwh / 1000 * float(county.fuels[of]["co2_lb_per_mwh"]) * 0.45359237
        return kwh / KWH_PER_BTU / 1e6 * float(county.fuels[of]["co2_kg_per_mmbtu"])

    out["co2_saved_kg"] = co2_kg((year["without"] - year["backup"]).sum(), fuel) - co2_kg(
        out["pump_kwh"], "electricity"
    )

    # The ledger: what each month is paid or received, without and with; money paid is negative.
    cost = cents(home["quote"] if home["quote"] is not None else package["material_usd"] + package["labor_usd"])
    awards = incentives(home, cost, float(year["area"]), county)
    life = package["life_years"]
    served = min(county.years, life)
    rises = {f: program["prices"][f]["nominal_escalation"] for f in FUELS}
    fuel_without = -every_month(
        by_bills(units["without"] * home["prices"][fuel], county.install), rises[fuel], county.years, county
    )
    bills_with = by_bills(units["backup"] * home["prices"][fuel], county.install)
    fuel_with = -every_month(bills_with, rises[fuel], served, county)
    fuel_with[served * 12 + 1 :] = fuel_without[served * 12 + 1 :]
    pump = -every_month(
        by_bills(year["pump"] * home["prices"]["electricity"], county.install), rises["electricity"], served, county
    )
    upkeep, replacement, help_ = (np.zeros(county.months + 1) for _ in range(3))
    for item in package.get("upkeep", []):
        for at in range(item["first_year"], served, item["every_years"]):
            line = replacement if item.get("replaces") else upkeep
            line[at * 12] -= item["usd"] * (1 + county.inflation) ** at
    for month, usd in awards:
        if month <= county.months:
            help_[month] += usd
    heaters, heater_left = heater_flows(home["heater"]["years_left"], county)
    net_paid = max(0.0, cost - sum(usd for _, usd in awards))
    kept = max(0.0, 1 - county.years / life) * (1 + county.inflation) ** county.years
    remaining = net_paid * kept

    saving = fuel_with - fuel_without + pump
    cash = saving + upkeep + replacement + help_
    cash[0] -= cost

    # Measures: ASTM E917, E964, E1057, E1074, E1121; 10 CFR 436.
    def present(flows: Array) -> float:
        return float(flows @ county.discount)

    at_end = float(county.discount[-1])
    out["installed_cost_usd"] = cost
    out["incentives_usd"] = help_.sum()
    out["net_cost_usd"] = cost - help_.sum()
    out["due_at_install_usd"] = due = cost - help_[0]
    out["first_year_cost_without_usd"] = -fuel_without[1:13].sum()
    out["first_year_cost_with_usd"] = -(fuel_with + pump)[1:13].sum()
    out["first_year_saving_usd"] = first_saving = saving[1:13].sum()
    savings_pv = present(saving) + present(upkeep)
    out["net_savings_usd"] = net = present(cash) + remaining * at_end
    invested = savings_pv - net
    out["life_cycle_cost_without_usd"] = -(present(fuel_without) + present(heaters) + heater_left * at_end)
    out["life_cycle_cost_with_usd"] = out["life_cycle_cost_without_usd"] - net
    out["simple_payback_years"], out["lasting_simple_payback_years"] = crossings(cash)
    out["discounted_payback_years"], out["lasting_discounted_payback_years"] = crossings(cash * county.discount)
    ratio = savings_pv / invested if invested > 0 else None
    out["savings_to_investment"] = ratio
    growth = 1 + county.discount_rate
    out["adjusted_irr_pct"] = 100 * (growth * ratio ** (1 / county.years) - 1) if ratio and ratio > 0 else None
    with_rest = cash.copy()
    with_rest[-1] += remaining
    rate = internal_rate(with_rest, county)
    out["internal_rate_of_return_pct"] = None if rate is None else 100 * rate
    out["equivalent_annual_value_usd"] = net * county.discount_rate / (1 - growth**-county.years)
    heat = every_month(by_bills(year["solar"], county.install), 0, served, county)
    costs = invested - present(upkeep) - present(pump)
    out["levelised_cost_of_heat_usd_per_kwh"] = costs / present(heat) if heat.any() else None
    moving = saving if fuel == "electricity" else fuel_with - fuel_without
    bought = out["fuel_saved"] - (out["pump_kwh"] if fuel == "electricity" else 0)
    price = moving[1:13].sum() / bought if bought > 0 else 0
    even = price - net * price / present(moving) if price > 0 and present(moving) != 0 else -1
    out["break_even_fuel_price_usd"] = max(0.0, even) if even >= -1e-9 else None
    even = cost + net / (1 - kept * at_end)
    out["break_even_installed_cost_usd"] = even if even >= help_.sum() - 1e-6 else None

    share_pct = 100 / home["income"] if home["income"] > 0 else None
    for when in ("without", "with"):
        burden = out[f"first_year_cost_{when}_usd"]
        out[f"water_heating_burden_{when}_pct"] = burden * share_pct if share_pct else None
    for when, less in (("without", 0), ("with", first_saving)):
        known = share_pct and home["bills"] is not None
        out[f"energy_burden_{when}_pct"] = (home["bills"] - less) * share_pct if known else None

    # Help that makes the thresholds hold, and the loans.
    rules = program["decision"]
    needed = 0.0
    if "longest_simple_payback_years" in rules:
        needed = max(needed, -cash[: rules["longest_simple_payback_years"] * 12 + 1].cumsum().max())
    if "least_net_savings_usd" in rules:
        needed = max(needed, rules["least_net_savings_usd"] - net)
    if set(rules) - {"longest_simple_payback_years", "least_net_savings_usd", "largest_extra_help_usd"}:
        raise Unsupported(f"thresholds {sorted(rules)}")
    out["extra_help_usd"] = None if needed > due else cents_up(needed)
    loans = [with_loan(loan, due, net, saving, county) for loan in program.get("loan", [])] if due > 0 else []
    paying = [loan for loan in loans if loan["pays_from_month_one"] and loan["loan_net_savings_usd"] >= 0]
    best = max(paying or loans, key=lambda loan: loan["loan_average_month_usd"], default={})
    out |= best

    misfit = (
        (home["tenure"] == "renter" and not program["suitability"]["renters_served"])
        or (abs(home["azimuth_deg"]) > program["suitability"]["most_degrees_off_south"] and home["tilt_deg"] >= 5)
        or home["shading"] > program["suitability"]["most_shading_share"]
        or (
            package["loop"] == "pressurized_glycol"
            and home["occupants"] < program["suitability"]["least_occupants_for_glycol"]
        )
        or not package["least_occupants"] <= home["occupants"] <= package["most_occupants"]
        or home["roof_m2"] < year["area"]
    )
    extra = out["extra_help_usd"]
    if misfit:
        out["decision"] = "not suitable"
    elif extra == 0:
        out["decision"] = "pays in cash"
    elif paying:
        out["decision"] = "pays with loan"
    elif extra is not None and extra <= rules["largest_extra_help_usd"]:
        out["decision"] = "needs more help"
    else:
        out["decision"] = "does not pay"
    return out


def with_loan(terms: Mapping[str, Any], due: float, net: float, saving: Array, county: County) -> Figures:
    """The purchase with one loan: what it leaves to pay at install, a month, and over the study."""
    amount = cents(min(due, terms.get("largest_usd", math.inf)))
    level, payments = level_loan(amount, terms["yearly_rate"], terms["term_months"])
    if len(payments) > county.months:
        raise Unsupported(f"loan {terms['id']} outlasts the study")
    flows = np.zeros(county.months + 1)
    flows[0] = amount
    flows[1 : len(payments) + 1] = -payments
    cash = cents(due - amount)
    average = (saving[1:13].sum() - payments[:12].sum()) / 12
    return {
        "loan": terms["id"],
        "loan_amount_usd": amount,
        "loan_payment_usd": level,
        "loan_cash_at_install_usd": cash,
        "loan_average_month_usd": average,
        "loan_lowest_month_usd": (saving + flows)[1:13].min(),
        "loan_net_savings_usd": net + flows @ county.discount,
        "pays_from_month_one": bool(cash <= 0 and average >= 0),
    }


def appraise(row: Row, county: County) -> Figures:
    """A household (a row of a sheet, as text) with the package that suits and saves most."""
    home = settle(row, county)
    packages = county.program["package"]
    if home["package"]:
        offered = [package for package in packages if package["id"] == home["package"]]
        if not offered:
            raise Unsupported(f"package {home['package']!r}")
    else:
        offered = [p for p in packages if p["least_occupants"] <= home["occupants"] <= p["most_occupants"]] or packages
    tried = [with_package(row, home, package, county) for package in offered]
    best = max(tried, key=lambda figures: (figures["decision"] != "not suitable", figures["net_savings_usd"]))
    best["income_share_pct"] = (
        100
        * home["income"]
        / (county.program["income"]["area_median_income_usd"] * size_percent(home["occupants"]) / 100)
    )
    tiers = county.program["income"]["tier"]
    below = [t for t in tiers if home["income"] <= income_limit(t["most_share"], home["occupants"], county)]
    best["income_tier"] = below[0]["name"] if below else "above"
    return best
