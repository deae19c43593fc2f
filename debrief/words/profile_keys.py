"""The keys of an engine profile in words, each with its unit."""

from __future__ import annotations

from debrief.words.channels import USUAL_NAMES, ChannelNames

_KEYS = {
    "min_fuel_ng_pct": ("least Ng for fuel", "%"),
    "advised_fuel_ng_pct": ("advised Ng for fuel", "%"),
    "stable_ng_rate_pct_per_s": ("slope of a stable Ng", "%/s"),
    "stable_for_s": ("time over which Ng is stable", "s"),
    "stopped_ng_pct": ("Ng of a standing engine", "%"),
    "idle_ng_pct": ("idle Ng", "%"),
    "idle_tolerance_pct": ("tolerance of idle", "%"),
    "light_off_within_s": ("longest wait for light-off", "s"),
    "light_off_rise_c": ("rise of {itt} that is a light-off", "degC"),
    "idle_within_s": ("longest time from light-off to idle", "s"),
    "hung_ng_rate_pct_per_s": ("least gain of Ng while lit", "%/s"),
    "hung_for_s": ("time that a hang lasts", "s"),
    "start_window_max_s": ("longest time that start limits apply", "s"),
    "nominal_bus_volts": ("nominal voltage", "V"),
    "min_bus_volts_before": ("least resting voltage", "V"),
    "min_bus_volts": ("least voltage after the first second of the starter", "V"),
    "max_residual_itt_c": ("highest {itt} at fuel on", "degC"),
    "max_engage_ng_pct": ("highest Ng to engage the starter", "%"),
    "after_cut_rise_c": ("rise of {itt} with fuel off", "degC"),
    "purge_s": ("motoring between a fuel cut-off and fuel again", "s"),
    "motor_for_s": ("motoring after an abort", "s"),
    "reset_after_s": ("rest after which the starter cycle restarts", "s"),
    "motor_until_itt_c": ("{itt} to motor down to after an abort", "degC"),
    "tailwind_kt": ("tailwind that counts as a factor", "kt"),
    "oat_c": ("outside air temperature that counts as a factor", "degC"),
    "density_altitude_ft": ("density altitude that counts as a factor", "ft"),
    "airborne_ias_kt": ("airspeed of flight", "kt"),
    "flight_gate_power_lever_pct": ("power lever at the flight gate", "%"),
    "reverse_gate_power_lever_pct": ("power lever at the reverse gate", "%"),
    "avoided_np_rpm": ("bands of Np to be avoided", "rpm"),
    "settle_itt_c": ("{itt} to settle at before the fuel cut-off", "degC"),
    "settle_s": ("least time at rest before the fuel cut-off", "s"),
    "cycle_factor": ("part of a cycle for each further take-off", ""),
    "reference_itt_c": ("reference {itt} of the hot section", "degC"),
    "larson_miller_c": ("Larson-Miller constant", ""),
    "reference_life_h": ("life at the reference {itt}", "h"),
    "oat_is": ("recorded OAT", ""),
    "max_rate": ("fastest change that the engine can make", ""),
    "after_takeoff_s": ("time after take-off", "s"),
    "outside_takeoff_s": ("time from take-off on that is left out", "s"),
    "duty": ("order of starter runs and rests", ""),
    "external_duty": ("order of starter runs from external power", ""),
}


def key_title(name: str, names: ChannelNames = USUAL_NAMES) -> tuple[str, str]:
    """Return a key of the profile in words, without its table, and its unit as printed.

    Beside a recording `names` is what this calls its channels.
    """
    if name not in _KEYS:
        return name.replace("_", " "), ""
    words, unit = _KEYS[name]
    return words.format(itt=names.itt), unit
