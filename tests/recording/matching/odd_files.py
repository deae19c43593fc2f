"""Invented recordings as strangers would write them, each column with what it truly is; for tests of what must hold."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROWS = 240


def ng(i: int) -> float:
    """Return a gas generator's speed in a start and a short run, [%]."""
    return 0.0 if i < 20 else min(64.0, (i - 20) * 0.9) + (i % 5) * 0.05


def itt(i: int) -> float:
    """Return the temperature of that start, [°C]."""
    if i < 40:
        return 24.0
    return 24.0 + (i - 40) * 38.0 if i < 58 else max(545.0, 708.0 - (i - 58) * 3.0) + (i % 7) * 0.4


def pt(i: int) -> float:
    """Return the speed of its power turbine, [rpm]."""
    return 0.0 if i < 60 else min(1250.0, (i - 60) * 14.0) + i % 3


def oil(i: int) -> float:
    """Return its oil temperature, [°C]."""
    return 18.0 + i * 0.2


def oil_pressure(i: int) -> float:
    """Return its oil pressure, [psi]."""
    return min(88.0, i * 0.8) + i % 3


def volts(i: int) -> float:
    """Return the voltage of its bus, [V]."""
    return 24.4 if i < 20 else 19.0 + min(9.0, (i - 20) * 0.2) + (i % 4) * 0.1


def flow(i: int) -> float:
    """Return its fuel flow, [kg/h]."""
    return 0.0 if i < 38 else 42.0 + (i % 9) * 0.3


def torque(i: int) -> float:
    """Return its torque, [%]."""
    return 0.0 if i < 60 else min(12.0, (i - 60) * 0.2) + (i % 4) * 0.1


def fahrenheit(one: Callable[[int], float]) -> Callable[[int], float]:
    """Return a temperature in °F."""
    return lambda i: 1.8 * one(i) + 32.0


def plus(one: Callable[[int], float], more: float) -> Callable[[int], float]:
    """Return a quantity with something added."""
    return lambda i: one(i) + more


def times(one: Callable[[int], float], factor: float) -> Callable[[int], float]:
    """Return a quantity in another unit."""
    return lambda i: one(i) * factor


def still(value: float) -> Callable[[int], float]:
    """Return what never moves."""
    return lambda i: value


def noise(i: int) -> float:
    """Return what means nothing."""
    return (i * 37 % 101) / 10.0


@dataclass(frozen=True)
class Column:
    """One column: its values, and the channels that it may be taken for, each with the unit of its values.

    `wanted` says that it was set, allowed or kept and not measured.
    """

    values: Callable[[int], float]
    may_be: tuple[tuple[str, str], ...] = ()
    wanted: bool = False


def is_(channel: str, unit: str, values: Callable[[int], float]) -> Column:
    """Return a column that is a channel."""
    return Column(values, ((channel, unit),))


def no(values: Callable[[int], float]) -> Column:
    """Return a column that is none of the core channels."""
    return Column(values)


def wanted(values: Callable[[int], float]) -> Column:
    """Return a set point, a limit or a kept extreme."""
    return Column(values, wanted=True)


SECONDS = Column(lambda i: float(i), (("time", "s"),))

ODD: dict[str, dict[str, Column]] = {
    "free turbine by its spools": {
        "t [s]": SECONDS, "N1 [%]": is_("ng", "%", ng), "N2 [rpm]": is_("np", "rpm", pt),
        "T45 [°C]": is_("itt", "degC", itt), "P3 [kPa]": no(noise),
    },
    "gas producer and power turbine": {
        "Elapsed (s)": SECONDS, "Gas Producer Speed (%)": is_("ng", "%", ng),
        "Power Turbine Speed (rpm)": is_("np", "rpm", pt), "Exhaust Gas Temp (F)": is_("itt", "degF", fahrenheit(itt)),
    },
    "set points before what was measured": {
        "Time (s)": SECONDS, "N1 Set": wanted(still(64.0)), "N1 Demand": wanted(plus(ng, 1)), "N1": is_("ng", "%", ng),
        "EGT Limit": wanted(still(820.0)), "EGT Bug": wanted(still(700.0)), "EGT": is_("itt", "degC", itt),
    },
    "kept extremes and commands": {
        "Time (s)": SECONDS, "Max ITT (degC)": wanted(still(708.0)), "ITT Peak (degC)": wanted(plus(itt, 1)),
        "ITT (degC)": is_("itt", "degC", itt), "Ng cmd (%)": wanted(plus(ng, 2)), "Ng ref (%)": wanted(still(60.0)),
        "Ng (%)": is_("ng", "%", ng),
    },
    "only set points of the temperature": {
        "Time (s)": SECONDS, "Ng (%)": is_("ng", "%", ng), "ITT target (degC)": wanted(plus(itt, 3)),
        "ITT redline": wanted(still(830.0)),
    },
    "four probes": {
        "Time (s)": SECONDS, "NG": is_("ng", "%", ng),
        **{f"EGT{n}": is_("itt", "degC", plus(itt, 7 * n)) for n in (1, 2, 3, 4)},
    },
    "probes by a bench's names": {
        "run_sec": SECONDS, "N_PLC_N1": is_("ng", "%", ng),
        **{f"T_DAQ_Turbine_Exit_{n}": is_("itt", "degC", plus(itt, 5 * n)) for n in (1, 2)},
        **{f"T_PLC_Turbine_Exit_{n}": is_("itt", "degC", plus(itt, 9 * n)) for n in (1, 2)},
        "T_DAQ_Bearing_1": no(oil), "CV_N1_Max": wanted(still(110.0)), "CV_Target_N1": wanted(plus(ng, 1)),
    },
    "probes with an open one": {
        "Time (s)": SECONDS, "Ng (%)": is_("ng", "%", ng), "TIT TC1 (degC)": is_("itt", "degC", itt),
        "TIT TC2 (degC)": is_("itt", "degC", plus(itt, 11)), "TIT TC3 (degC)": is_("itt", "degC", still(2293.7)),
    },
    "two engines with probes": {
        "Time (s)": SECONDS,
        **{f"ENG{e} N1 (%)": is_("ng" if e == 1 else "ng.2", "%", plus(ng, e)) for e in (1, 2)},
        **{f"ENG{e} EGT{n} (degC)": is_("itt" if e == 1 else "itt.2", "degC", plus(itt, 10 * e + n))
           for e in (1, 2) for n in (1, 2, 3)},
    },
    "two jets": {
        "Time (s)": SECONDS,
        **{f"{side} N1 (%)": is_(f"ng{more}", "%", plus(ng, 1)) for side, more in (("Left", ""), ("Right", ".2"))},
        **{f"{side} EGT (degC)": is_(f"itt{more}", "degC", itt) for side, more in (("Left", ""), ("Right", ".2"))},
        **{f"{side} Fuel Flow (kg/h)": is_(f"fuel_flow{more}", "kg/h", flow) for side, more in (("Left", ""), ("Right", ".2"))},
    },
    "a small jet in rpm": {
        "Time (s)": SECONDS, "RPM setpoint": wanted(times(ng, 1100)), "Rotor Speed (rpm)": is_("ng", "rpm", times(ng, 1100)),
        "EGT (degC)": is_("itt", "degC", itt), "Pump V": no(noise),
    },
    "fahrenheit that nobody tells": {
        "Time (s)": SECONDS, "N1": is_("ng", "%", ng), "ITT": is_("itt", "degF", fahrenheit(itt)),
        "Oil Temp (F)": is_("oil_temp", "degF", fahrenheit(oil)),
    },
    "a row of units": {
        "Time": SECONDS, "Gas Gen Speed": is_("ng", "%", ng), "TGT": is_("itt", "degC", itt),
        "Oil Pr": is_("oil_press", "psi", oil_pressure),
    },
    "german": {
        "Zeit [s]": SECONDS, "Gasgeneratordrehzahl [%]": is_("ng", "%", ng), "Sollwert Drehzahl [%]": wanted(plus(ng, 1)),
        "Abgastemperatur [°C]": is_("itt", "degC", itt), "Öltemperatur [°C]": is_("oil_temp", "degC", oil),
        "Bordspannung [V]": is_("bus_volts", "V", volts),
    },
    "german probes": {
        "Zeit [s]": SECONDS, "Drehzahl Gasgenerator [%]": is_("ng", "%", ng),
        **{f"Abgastemperatur Fühler {n} [°C]": is_("itt", "degC", plus(itt, 6 * n)) for n in (1, 2, 3)},
        "Abgastemperatur Grenzwert [°C]": wanted(still(820.0)),
    },
    "french": {
        "Temps (s)": SECONDS, "Régime générateur (%)": is_("ng", "%", ng), "Consigne régime (%)": wanted(plus(ng, 1)),
        "Température turbine (°C)": is_("itt", "degC", itt), "Couple (%)": is_("torque", "%", torque),
        "Pression huile (psi)": is_("oil_press", "psi", oil_pressure), "Débit carburant (kg/h)": is_("fuel_flow", "kg/h", flow),
    },
    "french probes": {
        "Temps (s)": SECONDS, "Régime NG (%)": is_("ng", "%", ng),
        **{f"Température turbine sonde {n} (°C)": is_("itt", "degC", plus(itt, 4 * n)) for n in (1, 2)},
    },
    "temperatures by number": {
        "Time (s)": SECONDS, "Ng (%)": is_("ng", "%", ng), "T_01": no(oil), "T_02": is_("itt", "degC", itt),
        "T_03": no(plus(oil, 9)), "P_01": no(itt),
    },
    "a case that is nearly as hot": {
        "Time (s)": SECONDS, "Ng (%)": is_("ng", "%", ng), "Case temp (degC)": no(times(itt, 0.8)),
        "Pyrometer (degC)": is_("itt", "degC", itt),
    },
    "letters behind the probes": {
        "Time (s)": SECONDS, "N1 (%)": is_("ng", "%", ng), "Gas Temp A": is_("itt", "degC", itt),
        "Gas Temp B": is_("itt", "degC", plus(itt, 12)),
    },
    "two speeds of one shaft": {
        "Time (s)": SECONDS, "Ng rpm": is_("ng", "rpm", times(ng, 380.0)), "Ng pct": is_("ng", "%", ng),
        "ITT (degC)": is_("itt", "degC", itt),
    },
    "numbered speeds and one temperature": {
        "Time (s)": SECONDS, "N1 (%)": is_("ng", "%", ng), "N2 (rpm)": is_("np", "rpm", pt),
        "MGT No 1 (degC)": is_("itt", "degC", itt), "MGT No 2 (degC)": is_("itt", "degC", plus(itt, 8)),
    },
    "a bench without an engine's words": {
        "Clock": SECONDS, "CH1": no(ng), "CH2": no(itt), "CH3": no(volts),
    },
    "speeds of a bench in thousands": {
        "Time (s)": SECONDS, "N1 (krpm)": is_("ng", "krpm", times(ng, 0.38)), "N2 (krpm)": is_("np", "krpm", times(pt, 0.001)),
        "Turbine Outlet Temperature (K)": is_("itt", "K", plus(itt, 273.15)),
    },
}  # fmt: skip
"""By what is odd of each."""

UNITS_ROW = {"a row of units": ("s", "%", "degC", "psi")}


def written(folder: Path, name: str) -> Path:
    """Write one of the files and return it."""
    columns = ODD[name]
    lines = [",".join(columns)]
    if name in UNITS_ROW:
        lines.append(",".join(UNITS_ROW[name]))
    lines += [",".join(f"{column.values(i):.6g}" for column in columns.values()) for i in range(ROWS)]
    path = folder / "odd.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
