"""Spellings of units, what they mean, and conversion to each channel's canonical unit.

A small table of our own: general unit libraries misread the trade's spellings (C is not coulomb here, Nm is
a torque). Each factor names its source. "SP 811" is NIST Special Publication 811 (2008), appendix B.8, by
the line's own name; "definition" is exact by definition of the unit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from debrief.words.channels import CANONICAL, base_name
from debrief.words.visible import without_symbols

FloatArray = NDArray[np.float64]

LBF_N = 4.4482216152605
LB_KG = 0.45359237
PSI_PA = LBF_N / 0.0254**2


@dataclass(frozen=True)
class Unit:
    """One unit: a value in it is ``(value - zero) * factor / divisor`` of its quantity's base unit.

    Attributes
    ----------
    name : str
        The spelling that the program uses.
    quantity : str
        What is measured; only units of one quantity convert into each other.
    factor, divisor, zero : float
        See above. Factor and divisor are apart so that an exact rule stays exact.
    source : str
        Where the factor comes from.
    spellings : tuple of str
        Other ways to write it; case counts only where two units differ by case alone.
    """

    name: str
    quantity: str
    factor: float
    source: str
    spellings: tuple[str, ...] = ()
    divisor: float = 1.0
    zero: float = 0.0


def _unit(name: str, quantity: str, factor: float, source: str, spellings: str = "", **more: float) -> Unit:
    return Unit(name, quantity, factor, source, tuple(s for s in spellings.split("|") if s), **more)


_DEFINITION = "definition"

UNITS: tuple[Unit, ...] = (
    # temperature, base degC
    _unit("degC", "temperature", 1.0, _DEFINITION,
          "C|deg C|deg. C|deg_C|degrees C|degree C|celsius|degrees celsius|centigrade|oC|ºC|°C|℃|dgC"),
    _unit("degF", "temperature", 1.0, "SP 811 degree Fahrenheit to degree Celsius: t/°C = (t/°F - 32)/1.8",
          "F|deg F|deg. F|deg_F|degrees F|degree F|fahrenheit|degrees fahrenheit|oF|ºF|°F|℉|dgF",
          zero=32.0, divisor=1.8),
    _unit("K", "temperature", 1.0, "SP 811 kelvin to degree Celsius: t/°C = T/K - 273.15",
          "kelvin|degK|deg K|°K", zero=273.15),
    _unit("degR", "temperature", 1.0, "SP 811 degree Rankine to kelvin: T/K = (T/°R)/1.8",
          "rankine|deg R|°R", zero=491.67, divisor=1.8),
    # share, base %
    _unit("%", "share", 1.0, _DEFINITION,
          "pct|percent|per cent|prct|pc|% rpm|%rpm|rpm %|pct rpm|% n|%N1|%N2|%NG|%NP|% torque|%tq"),
    # rotation, base rpm
    _unit("rpm", "rotation", 1.0, _DEFINITION,
          "r/min|rev/min|1/min|min-1|min^-1|/min|revs/min|rpm x1|revolutions per minute|tr/min|U/min"),
    _unit("krpm", "rotation", 1000.0, _DEFINITION,
          "rpm x1000|rpmx1000|rpm x 1000|x1000 rpm|x 1000 rpm|1000 rpm|rpm*1000|rpm/1000|k rpm|krev/min"),
    _unit("rpm x100", "rotation", 100.0, _DEFINITION, "rpmx100|rpm x 100|x100 rpm|x 100 rpm|100 rpm|rpm*100"),
    _unit("Hz", "rotation", 60.0, "SP 811 hertz, revolution per second: 60 r/min",
          "hertz|rev/s|r/s|rps|1/s"),
    _unit("rad/s", "rotation", 30.0 / np.pi, "SP 811 revolution per minute to radian per second: 1.047198 E-01"),
    # torque, base N m
    _unit("N m", "torque", 1.0, _DEFINITION,
          "Nm|N.m|N·m|N-m|N*m|N∙m|N⋅m|newton metre|newton meter|newton metres|newton meters"),
    _unit("kN m", "torque", 1000.0, _DEFINITION, "kNm|kN.m|kN·m|kN-m"),
    _unit("daN m", "torque", 10.0, _DEFINITION, "daNm|daN.m|daN·m"),
    _unit("lbf ft", "torque", LBF_N * 0.3048, "SP 811 pound-force foot to newton meter: 1.355818 E+00",
          "lbf.ft|lbf·ft|lbf-ft|lbfft|ft lbf|ft-lbf|ft·lbf|ft.lbf|ftlbf|ft lb|ft-lb|ft.lb|ftlb|ft lbs|ft-lbs|"
          "ftlbs|ft.lbs|lb ft|lb-ft|lb.ft|lbft|lbs ft|foot pound|foot-pound|foot pounds|foot-pounds|"
          "pound feet|pound-feet"),
    _unit("lbf in", "torque", LBF_N * 0.0254, "SP 811 pound-force inch to newton meter: 1.129848 E-01",
          "in lb|in-lb|in lbf|in-lbf|in.lbf|lb in|lb-in|lbf-in|lbf.in|inch pounds|in lbs|in-lbs"),
    _unit("kgf m", "torque", 9.80665, "SP 811 kilogram-force meter to newton meter: 9.80665 E+00",
          "kgf.m|kgf·m|kgfm|kgm|kg m|kg.m|kgf-m|kpm"),
    # pressure, base Pa
    _unit("psi", "pressure", PSI_PA, "SP 811 psi (pound-force per square inch) to pascal: 6.894757 E+03",
          "psig|psid|psia|lb/in2|lbf/in2|lb/sq in|lbf/in²|lb/in²|lbs/in2|pounds per square inch"),
    _unit("bar", "pressure", 1e5, "SP 811 bar to pascal: 1.0 E+05", "bars|barg|bara|bar g|bar a"),
    _unit("mbar", "pressure", 100.0, "SP 811 millibar to pascal: 1.0 E+02", "mb|millibar|millibars"),
    _unit("Pa", "pressure", 1.0, _DEFINITION, "pascal|pascals"),
    _unit("hPa", "pressure", 100.0, _DEFINITION, "hectopascal|hectopascals"),
    _unit("kPa", "pressure", 1000.0, _DEFINITION, "kilopascal|kilopascals"),
    _unit("MPa", "pressure", 1e6, _DEFINITION, "megapascal"),
    _unit("inHg", "pressure", 3386.389, "SP 811 inch of mercury, conventional, to pascal: 3.386389 E+03",
          "in hg|in. hg|inches hg|\"hg|inhg"),
    _unit("kgf/cm2", "pressure", 98066.5, "SP 811 kilogram-force per square centimeter to pascal: 9.80665 E+04",
          "kgf/cm²|kg/cm2|kg/cm²|kp/cm2|ksc"),
    _unit("atm", "pressure", 101325.0, "SP 811 atmosphere, standard, to pascal: 1.01325 E+05", "atmosphere"),
    # mass flow, base kg/h
    _unit("kg/h", "mass flow", 1.0, _DEFINITION, "kg/hr|kgh|kg/hour|kgph|kg h-1|kg per hour|kph fuel"),
    _unit("lb/h", "mass flow", LB_KG, "SP 811 pound per hour to kilogram per second: 1.259979 E-04",
          "lb/hr|lbs/h|lbs/hr|pph|lbh|lbm/h|lbm/hr|lb/hour|pounds per hour|lbs per hour"),
    _unit("kg/s", "mass flow", 3600.0, _DEFINITION, "kg/sec"),
    _unit("g/s", "mass flow", 3.6, _DEFINITION, "g/sec|gram/s"),
    _unit("g/min", "mass flow", 0.06, _DEFINITION, "gram/min"),
    _unit("kg/min", "mass flow", 60.0, _DEFINITION, ""),
    _unit("lb/min", "mass flow", 60.0 * LB_KG, "SP 811 pound per minute to kilogram per second: 7.559873 E-03",
          "ppm fuel|lbs/min|lbm/min"),
    _unit("lb/s", "mass flow", 3600.0 * LB_KG, "SP 811 pound per second to kilogram per second: 4.535924 E-01",
          "lb/sec|lbs/s|lbm/s"),
    # volume flow, base L/h: known, but no mass flow without a density, which nobody may assume
    _unit("L/h", "volume flow", 1.0, _DEFINITION, "l/hr|lph|litre/h|liter/h|l/hour|ltr/h"),
    _unit("gal/h", "volume flow", 3.785411784, "SP 811 gallon (U.S.) to liter: 3.785412 E+00",
          "gph|gal/hr|gal/hour|usg/h|us gal/h|gallons per hour"),
    # electricity
    _unit("V", "voltage", 1.0, _DEFINITION, "volt|volts|vdc|v dc|vac"),
    _unit("mV", "voltage", 0.001, _DEFINITION, "millivolt|millivolts"),
    _unit("A", "current", 1.0, _DEFINITION, "amp|amps|ampere|amperes|adc"),
    _unit("mA", "current", 0.001, _DEFINITION, "milliamp|milliamps"),
    _unit("kW", "power", 1.0, _DEFINITION, "kilowatt|kilowatts"),
    _unit("W", "power", 0.001, _DEFINITION, "watt|watts"),
    _unit("hp", "power", 0.745699871582, "SP 811 horsepower (550 ft lbf/s) to watt: 7.456999 E+02", "shp|bhp"),
    # speed, base m/s
    _unit("kt", "speed", 1852.0, "SP 811 knot (nautical mile per hour) to meter per second: 5.144444 E-01",
          "kts|knot|knots|kn|kias|ktas|kcas|nmi/h|nm/h", divisor=3600.0),
    _unit("m/s", "speed", 1.0, _DEFINITION, "mps|m/sec|metres per second|meters per second|m s-1"),
    _unit("km/h", "speed", 1.0, "SP 811 kilometer per hour to meter per second: 2.777778 E-01",
          "kmh|kph|km/hr|kmph", divisor=3.6),
    _unit("mph", "speed", 0.44704, "SP 811 mile per hour to meter per second: 4.4704 E-01", "mi/h|mile/h"),
    _unit("ft/min", "speed", 0.00508, "SP 811 foot per minute to meter per second: 5.08 E-03",
          "fpm|ft/m|feet/min|ft min-1|feet per minute|ft/mn"),
    _unit("ft/s", "speed", 0.3048, "SP 811 foot per second to meter per second: 3.048 E-01",
          "fps|ft/sec|feet/s"),
    # length, base ft
    _unit("ft", "length", 1.0, _DEFINITION, "feet|foot|ft msl|ft agl|ft pa"),
    _unit("m", "length", 1.0, "SP 811 foot to meter: 3.048 E-01", "metre|meter|metres|meters|mtr", divisor=0.3048),
    _unit("km", "length", 1000.0, "SP 811 foot to meter: 3.048 E-01", "kilometre|kilometer", divisor=0.3048),
    _unit("FL", "length", 100.0, "flight level: hundreds of feet of pressure altitude", "ft x100|100 ft"),
    # angle, base deg
    _unit("deg", "angle", 1.0, _DEFINITION, "degree|degrees|°|º|dg|deg t|deg m|degt|degm|°t|°m|deg true|deg mag"),
    _unit("rad", "angle", 180.0 / np.pi, "SP 811 radian to degree: 5.729578 E+01", "radian|radians"),
    # time, base s
    _unit("s", "time", 1.0, _DEFINITION, "sec|secs|second|seconds"),
    _unit("ms", "time", 0.001, _DEFINITION, "msec|msecs|millisecond|milliseconds|millis"),
    _unit("us", "time", 1e-6, _DEFINITION, "µs|μs|usec|microsecond|microseconds|micros"),
    _unit("ns", "time", 1e-9, _DEFINITION, "nsec|nanosecond|nanoseconds|nanos"),
    _unit("min", "time", 60.0, "SP 811 minute to second: 6.0 E+01", "mins|minute|minutes"),
    _unit("h", "time", 3600.0, "SP 811 hour to second: 3.6 E+03", "hr|hrs|hour|hours"),
    _unit("d", "time", 86400.0, "SP 811 day to second: 8.64 E+04", "day|days"),
    # states
    _unit("0/1", "state", 1.0, _DEFINITION,
          "on/off|off/on|bool|boolean|discrete|binary|flag|logic|bit|1/0|true/false|yes/no|state"),
    _unit("0/1/2", "state", 1.0, _DEFINITION, ""),
    # other quantities that must not be taken for one of ours
    _unit("g", "acceleration", 1.0, _DEFINITION, "gee"),
    _unit("m/s2", "acceleration", 1.0, _DEFINITION, "m/s²|m/s^2"),
    _unit("N", "force", 1.0, _DEFINITION, "newton"),
    _unit("lbf", "force", LBF_N, "SP 811 pound-force to newton: 4.448222 E+00", ""),
    _unit("kg", "mass", 1.0, _DEFINITION, "kilogram|kilograms"),
    _unit("lb", "mass", LB_KG, "SP 811 pound (avoirdupois) to kilogram: 4.535924 E-01", "lbs|lbm|pound|pounds"),
    _unit("L", "volume", 1.0, _DEFINITION, "litre|liter|litres|liters|ltr"),
    _unit("gal", "volume", 3.785411784, "SP 811 gallon (U.S.) to liter: 3.785412 E+00", "usg|us gal|gallon|gallons"),
)  # fmt: skip
"""Every unit that the reader knows."""

BY_NAME = {unit.name: unit for unit in UNITS}

NO_UNIT = frozenset(
    {"", "-", "--", "none", "n/a", "na", "1", "[-]", "unitless", "dimensionless", "ratio", "text"}
)
"""What stands in a units row where a column has no unit."""

_KEPT: dict[str, dict[str, str | None]] = {
    "ng": {"rotation": "rpm"},
    "np": {"share": "%"},
    "torque": {"torque": None, "pressure": None},
}
"""Quantities that a channel keeps until a profile scales them, and the unit they are kept in."""

QUANTITIES = {
    channel: frozenset({BY_NAME[unit].quantity, *_KEPT.get(channel, ())})
    for channel, unit in CANONICAL.items()
}
"""Which quantities a column of each channel may be recorded in."""

_BRACKETS = re.compile(r"^[\[({<]\s*(.*?)\s*[\])}>]$")
_SQUEEZE = re.compile(r"[\s_]+")


def _key(spelling: str) -> str:
    return _SQUEEZE.sub(" ", spelling.strip().strip(".")).casefold()


def _spellings() -> tuple[dict[str, Unit], dict[str, Unit]]:
    exact: dict[str, Unit] = {}
    folded: dict[str, Unit] = {}
    for unit in UNITS:
        for spelling in (unit.name, *unit.spellings):
            exact.setdefault(spelling, unit)
            folded.setdefault(_key(spelling), unit)
    return exact, folded


_EXACT, _FOLDED = _spellings()


MAX_SPELLING = 64
"""No unit is spelt longer; what is kept of spellings stays small."""


@lru_cache(maxsize=16384)
def find_unit(spelling: str) -> Unit | None:
    """Return the unit that a spelling means, or None.

    Parameters
    ----------
    spelling : str
        As found in a header, a units row or after a value; brackets and outer spaces do not count. The
        exact case is tried first (``MPa``, ``mA``), then any case.
    """
    if len(spelling) > MAX_SPELLING:
        return None
    text = without_symbols(spelling).strip()
    inner = _BRACKETS.match(text)
    if inner:
        text = inner.group(1)
    unit = _EXACT.get(text) or _FOLDED.get(_key(text))
    if unit is None and text.endswith("."):
        unit = _FOLDED.get(_key(text.rstrip(".")))
    return unit


def canonical_unit(spelling: str) -> str | None:
    """Return the program's own spelling of a unit (``deg F`` gives ``degF``), or None if it is unknown."""
    unit = find_unit(spelling)
    return unit.name if unit else None


def kept_unit(unit: Unit, channel: str) -> Unit | None:
    """Return the unit in which this channel is held when it was recorded in `unit`; None if it cannot be.

    Normally that is the canonical one; speeds in rpm, propeller speed in % and torque in a torque unit are
    kept until a profile scales them.
    """
    base = base_name(channel)
    canonical = BY_NAME[CANONICAL[base]]
    if unit.quantity == canonical.quantity:
        return canonical
    kept = _KEPT.get(base, {})
    if unit.quantity not in kept:
        return None
    name = kept[unit.quantity]
    if name is not None:
        return BY_NAME[name]
    if unit.quantity == "torque":
        return unit if unit.name in ("N m", "lbf ft") else BY_NAME["N m"]
    return BY_NAME["psi"]


def scale(values: ArrayLike, unit: Unit, to: Unit) -> FloatArray:
    """Return the values of one unit in another of the same quantity; the same unit changes no bit."""
    out = np.asarray(values, dtype=np.float64)
    if unit is to:
        return out
    if unit.quantity != to.quantity:
        raise ValueError(f"{unit.name} measures {unit.quantity}, {to.name} measures {to.quantity}")
    if unit.zero:
        out = out - unit.zero
    if unit.factor != to.factor or unit.divisor != to.divisor:
        if (unit.factor, to.factor, to.divisor) == (1.0, 1.0, 1.0):
            out = out / unit.divisor
        else:
            out = out * (unit.factor / unit.divisor * to.divisor / to.factor)
    return out + to.zero if to.zero else out


def convert(values: ArrayLike, from_spelling: str, channel: str) -> tuple[FloatArray, str]:
    """Return values converted for a channel, and the unit that they are in then.

    Parameters
    ----------
    values : (n,) array
        In the unit `from_spelling`; NaN stays NaN.
    from_spelling : str
        Any known spelling.
    channel : str
        Canonical channel name, with or without an engine number.

    Returns
    -------
    (n,) float array, str
        Canonical unit, except rpm (`ng`), % (`np`) and torque units (`torque`), which a profile scales later.

    Raises
    ------
    ValueError
        The unit is unknown, or measures something else than the channel.

    Examples
    --------
    >>> convert([212.0], "deg F", "oil_temp")
    (array([100.]), 'degC')
    """
    unit = find_unit(from_spelling)
    if unit is None:
        raise ValueError(f'"{from_spelling}" is not a unit that is known here')
    to = kept_unit(unit, channel)
    if to is None:
        raise ValueError(f"{unit.name} measures {unit.quantity}, which {channel} is not")
    return scale(values, unit, to), to.name


def torque_factor(unit: str, reference_unit: str) -> float | None:
    """Return what a torque in `unit` is multiplied by to be in `reference_unit`; None where it cannot be.

    A torque read as a pressure (psi of a torquemeter) only goes with a reference in a pressure unit.
    """
    one, other = find_unit(unit), find_unit(reference_unit)
    if one is None or other is None or one.quantity != other.quantity:
        return None
    if one.quantity not in ("torque", "pressure"):
        return None
    if one is other:
        return 1.0
    return one.factor / one.divisor * other.divisor / other.factor
