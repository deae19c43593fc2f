"""The examiner's own profile, invented; keys can be taken out of it."""

from __future__ import annotations

PROFILE = """format = "engine-profile/1"
name = "Examiner's engine"
aircraft = "Examiner's aircraft"
revision = "1"
source = "Invented for the study."

[engine]
reference_rpm = {ng = 37500, np = 1900}

[start]
min_fuel_ng_pct = 12.0
advised_fuel_ng_pct = 15.0
stable_ng_rate_pct_per_s = 0.4
stable_for_s = 2.0
stopped_ng_pct = 5.0
idle_ng_pct = 60.0
idle_tolerance_pct = 1.0
light_off_within_s = 10.0
light_off_rise_c = 40.0
idle_within_s = 60.0
hung_ng_rate_pct_per_s = 0.3
hung_for_s = 5.0
start_window_max_s = 120.0
nominal_bus_volts = 24.0
min_bus_volts_before = 23.0
min_bus_volts = 14.5
max_residual_itt_c = 200.0
max_engage_ng_pct = 8.0
after_cut_rise_c = 150.0
purge_s = 15.0
fuel_control = "manual"

[starter]
duty = [ {run_s = 45, rest_s = 60}, {run_s = 45, rest_s = 60}, {run_s = 45, rest_s = 1800} ]
external_duty = [ {run_s = 60, rest_s = 120} ]
reset_after_s = 1800
reset_counts = "rest"

[abort]
motor_for_s = 15.0

[factors]
tailwind_kt = 8.0
oat_c = 38.0
density_altitude_ft = 8000.0

[flight]
airborne_ias_kt = 60.0
flight_gate_power_lever_pct = 20.0

[[limits]]
id = "itt-start"
event = "hot_start"
channel = "itt"
when = "start"
unit = "degC"
count = "total"
allowed = [ {above = 780, seconds = 15}, {above = 850, seconds = 5}, {above = 950, seconds = 0} ]

[[limits]]
id = "itt-running"
event = "overtemp"
channel = "itt"
when = "running"
unit = "degC"
count = "longest"
allowed = [ {above = 745, seconds = 300, severity = "caution"}, {above = 785, seconds = 5} ]

[[limits]]
id = "torque-running"
event = "overtorque"
channel = "torque"
when = "running"
unit = "%"
count = "longest"
allowed = [ {above = 100, seconds = 300}, {above = 106, seconds = 10}, {above = 112, seconds = 0} ]

[[limits]]
id = "ng-running"
event = "overspeed_ng"
channel = "ng"
when = "running"
unit = "%"
count = "longest"
allowed = [ {above = 101.5, seconds = 10}, {above = 103, seconds = 0} ]

[[limits]]
id = "np-running"
event = "overspeed_np"
channel = "np"
when = "running"
unit = "rpm"
count = "longest"
allowed = [ {above = 1915, seconds = 20}, {above = 2050, seconds = 0} ]

[[limits]]
id = "oil-temp"
event = "oil_temp_high"
channel = "oil_temp"
when = "running"
unit = "degC"
count = "longest"
allowed = [ {above = 99, seconds = 600, severity = "caution"}, {above = 110, seconds = 60} ]

[[limits]]
id = "oil-press"
event = "oil_press_low"
channel = "oil_press"
when = "running"
unit = "psi"
count = "longest"
where = [ {channel = "ng", above = 72} ]
allowed = [ {below = 80, seconds = 30, severity = "caution"}, {below = 45, seconds = 5} ]
"""


def keys_of(table: str) -> list[str]:
    """Return the keys of a table of the profile, in order."""
    body = PROFILE.split(f"[{table}]\n")[1].split("\n[")[0]
    return [line.split(" = ")[0] for line in body.splitlines() if " = " in line]


def without(*keys: str) -> str:
    """Return the profile without these keys, wherever they stand."""
    kept = [line for line in PROFILE.splitlines() if line.split(" = ")[0] not in keys]
    return "\n".join(kept) + "\n"
