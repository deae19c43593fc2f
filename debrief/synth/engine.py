"""A small physical model of the invented Tarn TG-7: spool, starter, combustor, gas path, metal, propeller.

The gas generator is one rotor with inertia. A starter (a compound motor behind a current limiter) and the
surplus of turbine work over compressor work turn it; a fuel control meters the fuel. Temperatures come from
fuel and air; the hot metal takes heat from the gas and gives it back. What the crew's gauge shows is the
thermocouple, which follows the gas with its own time constant (`probe_s`, growing to `probe_still_s` as the
flow stops): that probe temperature is the state `itt`, and nothing else is ever delayed behind it. All constants are invented and match no real engine.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence

import numpy as np

from debrief.synth.engine_model import (
    SLOW_STEPS,
    STEP_S,
    Battery,
    Change,
    EngineConstants,
    EngineStates,
    Initial,
    Surroundings,
)

_RECORDED = (
    "ng", "itt", "fuel_flow", "bus_volts", "battery_amps", "generator_amps", "np", "torque", "oil_temp",
    "oil_press", "power_lever", "starter", "ignition", "fuel_on", "generator_on", "bleed", "separator", "lit",
)  # fmt: skip

IDLE_LEVER_PCT = 25.0
"""Power lever at idle, [%]."""
FLIGHT_GATE_PCT = 22.0
"""Power lever at the gate between flight and beta, [%]."""
REVERSE_GATE_PCT = 12.0
"""Power lever below which the propeller pushes backwards and the speed rises, [%]."""

# Fuel that the control allows while accelerating, over speed, for sea level pressure.
_ACCEL_NG = (
    0.0,
    10.0,
    12.5,
    15.0,
    17.5,
    20.0,
    25.0,
    30.0,
    35.0,
    40.0,
    50.0,
    58.0,
    65.0,
    75.0,
    85.0,
    95.0,
    102.0,
    115.0,
)
_ACCEL_KG_H = (
    80.0,
    80.0,
    72.0,
    55.0,
    50.0,
    48.0,
    50.5,
    57.5,
    67.0,
    77.0,
    96.0,
    113.0,
    136.0,
    178.0,
    232.0,
    300.0,
    350.0,
    350.0,
)


def _accel_table() -> list[float]:
    """Return the acceleration fuel, [kg/h], at every 0.01 % of Ng from 0 to 120."""
    grid = np.arange(0.0, 120.01, 0.01)
    return [float(v) for v in np.interp(grid, _ACCEL_NG, _ACCEL_KG_H)]


def run_engine(
    steps: int,
    changes: Sequence[Change],
    surroundings: Surroundings,
    battery: Battery,
    initial: Initial,
    idle_ng_pct: float = 60.0,
    starter_cutout_ng_pct: float = 42.0,
    constants: EngineConstants | None = None,
) -> EngineStates:
    """Return the engine's states at every millisecond.

    Parameters
    ----------
    steps : int
        Number of steps; the first is the state at time 0.
    changes : sequence of Change
        Crew actions and faults in order of their step.
    surroundings : Surroundings
        At least ``steps / SLOW_STEPS`` values each.
    idle_ng_pct : float
        Governed idle speed, [%].
    starter_cutout_ng_pct : float
        The starter opens by itself at this speed, [%], and stays open until it is switched off and on.

    Notes
    -----
    Explicit Euler steps: the fastest time constant (20 ms, the starter's current) is 20 steps long.
    """
    c = constants or EngineConstants()
    exp = math.exp
    accel = _accel_table()
    out = {name: array("d") for name in _RECORDED}
    add = {name: column.append for name, column in out.items()}
    a_ng, a_itt, a_wf, a_v, a_ib, a_ig = (add[k] for k in _RECORDED[:6])
    a_np, a_tq, a_ot, a_op, a_pl, a_st, a_ign, a_fu, a_gen, a_bl, a_sep, a_lit = (
        add[k] for k in _RECORDED[6:]
    )

    t1 = surroundings.oat_k[0]
    hot = t1 if initial.hot_c is None else initial.hot_c + 273.15
    case = (t1 + 0.5 * (hot - t1)) if initial.case_c is None else initial.case_c + 273.15
    oil = (t1 if initial.oil_c is None else initial.oil_c + 273.15) - 273.15
    probe = hot
    n = wf = pool = fresh = ready = 0.0
    lit = False
    amps = pol = gen_amps = 0.0
    volts = battery.open_volts - c.base_load_a * battery.resistance_mohm / 1000.0
    omega_p = coarse = 0.0
    fine = c.prop_fine_nm_s2
    gov = 0.0
    starter = fuel = ignition = generator = bleed = separator = 0
    demand_a = c.generator_load_a
    pitch = 1.0
    cutout_latched = starter_held = False
    light_off_possible = True
    metering = 1.0
    leak = 0.0
    lever = lever_target = IDLE_LEVER_PCT
    on_s = 0.0

    rb = battery.resistance_mohm / 1000.0
    ra = c.armature_mohm / 1000.0
    fade = battery.fade_mohm / 1000.0
    lhv_h = c.burner_efficiency * c.fuel_j_per_kg / 3600.0
    kappa = 0.2857
    f_gg, f_pt = c.work_split, 1.0 - c.work_split
    gov_rad_s = c.max_np_rpm * math.pi / 30.0
    dt = STEP_S
    queue = list(changes)
    position = 0
    next_step = queue[0].step if queue else steps
    delta = sigma_air = 1.0
    tail = 0.0

    for i in range(steps):
        if i % SLOW_STEPS == 0:
            k = i // SLOW_STEPS
            oat = surroundings.oat_k[k]
            delta = surroundings.pressure_ratio[k]
            tail = max(surroundings.tailwind_kt[k], 0.0)
            fine = c.prop_fine_nm_s2 * (1.0 - 0.5 * min(surroundings.ias_kt[k] / 110.0, 1.0))
            sigma_air = delta * 288.15 / oat
        while next_step == i:
            change = queue[position]
            name, value = change.name, change.value
            if name == "starter":
                if value and not starter:
                    cutout_latched, on_s = False, 0.0
                starter = int(value)
            elif name == "fuel":
                fuel = int(value)
            elif name == "ignition":
                ignition = int(value)
            elif name == "generator":
                generator = int(value)
            elif name == "power_lever":
                lever_target = value
            elif name == "bleed":
                bleed = int(value)
            elif name == "separator":
                separator = int(value)
            elif name == "generator_load":
                demand_a = value
            elif name == "light_off_possible":
                light_off_possible = bool(value)
            elif name == "metering":
                metering = value
            elif name == "leak":
                leak = value
            elif name == "starter_held":
                starter_held = bool(value)
            position += 1
            next_step = queue[position].step if position < len(queue) else steps

        if lever != lever_target:
            step = 8.0 * dt
            lever = (
                min(lever + step, lever_target) if lever < lever_target else max(lever - step, lever_target)
            )

        if n == 0.0 and wf == 0.0 and omega_p == 0.0 and starter == fuel == 0 and pool < 1e-9:
            # Everything stands: heat flows on, the battery recovers, and nothing else can change.
            amps -= amps * dt / 0.02
            gen_amps -= gen_amps * dt / 0.1
            fresh -= fresh * dt / 0.5
            pol -= pol * dt / 45.0
            volts += (battery.open_volts - pol - rb * (amps + c.base_load_a) - volts) * dt / 0.004
            flow_out = c.hot_to_case_w_per_k * (hot - case)
            hot -= flow_out * dt / c.hot_metal_j_per_k
            case += (flow_out - c.case_to_air_w_per_k * (case - oat)) * dt / c.case_j_per_k
            probe += (hot - probe) * dt / c.probe_still_s
            oil += (oat - 273.15 - oil) * dt / 1500.0
            a_ng(0.0)
            a_itt(probe - 273.15)
            a_wf(0.0)
            a_v(volts)
            a_ib(amps + c.base_load_a)
            a_ig(gen_amps)
            a_np(0.0)
            a_tq(0.0)
            a_ot(oil)
            a_op(0.0)
            a_pl(lever)
            a_st(0.0)
            a_ign(float(ignition))
            a_fu(0.0)
            a_gen(0.0)
            a_bl(float(bleed))
            a_sep(float(separator))
            a_lit(0.0)
            continue

        engaged = starter == 1 and not cutout_latched and not starter_held
        if engaged and n >= starter_cutout_ng_pct:
            cutout_latched = True
            engaged = False
        gen = generator == 1 and n > 52.0 and not engaged

        # The gas path. Tailwind at the exhaust holds the air back and lets hot gas round to the intake.
        r = n / 100.0
        if n > 0.01:
            wake = tail * max(0.0, 1.0 - r / 0.7)
            t1 = oat + 0.5 * wake
            air = c.air_kg_s * sigma_air * r**c.air_exponent * (1.0 - 0.011 * wake)
            ratio = 1.0 + c.pressure_rise * r**c.pressure_exponent
            lx = math.log(ratio)
            # What bleed takes from the compressor does not work in the turbines; what the separator loses in
            # pressure at the intake is missing in the expansion.
            le = max(lx + math.log(1.0 - c.separator_loss), 0.0) if separator else lx
            gas_air = air * (1.0 - c.bleed_share) if bleed else air
            x = exp(kappa * lx)
            rise = (
                t1
                * (x - 1.0)
                / (0.75 - 0.32 * exp(-r / 0.20) - (0.95 * (r - 0.58) ** 2 if r > 0.58 else 0.0))
            )
            t3 = t1 + rise
            # Both machines are poor at low speed: that is why an engine cannot start itself.
            eta_t = 0.80 - 1.00 * exp(-r / 0.165)
            drop_gg = eta_t * (1.0 - exp(-kappa * f_gg * le))
        else:
            t1 = oat
            air = gas_air = 1e-6
            rise = drop_gg = le = 0.0
            t3 = t1

        # Fuel control: floor and acceleration schedule, governor on speed.
        if fuel:
            top = metering * delta * accel[int(n * 100.0) if n < 119.0 else 11900]
            target = idle_ng_pct + max(lever - IDLE_LEVER_PCT, 0.0) * (101.5 - idle_ng_pct) / 75.0
            if lever < REVERSE_GATE_PCT:
                target += (REVERSE_GATE_PCT - lever) * c.reverse_ng_per_pct
            gov += 3.5 * (target - n) * dt
            want = gov + 9.0 * (target - n)
            if want > top:
                want = top
                gov = min(gov, top)
            low = 0.32 * top + 8.0
            if want < low:
                want = low
                gov = max(gov, low)
            wf += (want - wf) * dt / 0.15
        else:
            gov = 20.0
            wf += (leak - wf) * dt / 0.3
            if wf < 1e-3:
                wf = 0.0

        # Combustion: lit after the delay; fuel that came before pools and burns off at once.
        if lit and not fuel and wf < 3.0:
            lit = False
        if not lit:
            if wf > 5.0:
                pool += c.pooled_share * wf / 3600.0 * dt
                if ignition and light_off_possible and n > 4.0:
                    ready += dt
                    if ready >= c.light_off_delay_s:
                        lit = True
            if fuel == 0:
                ready = 0.0
            if pool > 0.0:
                pool -= pool * dt / c.pool_drain_s * min(air / 0.42, 1.5)
                if pool < 1e-9:
                    pool = 0.0
            burn = 0.0
            fresh -= fresh * dt / 0.5
        else:
            from_pool = pool / c.pool_burn_s
            pool -= from_pool * dt
            fresh += (1.0 - fresh) * dt / 0.5
            burn = fresh * (wf + from_pool * 3600.0)
        t4 = t3 + burn * lhv_h / ((gas_air + 0.012) * c.cp_gas)
        if t4 > 2250.0:
            t4 = 2250.0

        # Starter and electrics.
        omega = n * c.rad_s_per_pct
        if engaged:
            flux = c.starter_ke / (1.0 + n / c.field_weakening_pct)
            possible = (battery.open_volts - pol - flux * omega) / (rb + ra)
            cap = c.current_limit_a + c.inrush_a * exp(-on_s / c.inrush_s)
            possible = min(max(possible, 0.0), cap)
            amps += (possible - amps) * dt / 0.02
            push = flux * amps
            on_s += dt
        else:
            amps -= amps * dt / 0.02
            push = 0.0
        if gen:
            charge = (c.generator_volts - battery.open_volts + pol) / (rb + 0.06)
            gen_amps += (demand_a + charge - gen_amps) * dt / 0.3
            battery_amps = -charge
            volts += (c.generator_volts - volts) * dt / 0.15
            pol += (-0.3 - pol) * dt / 60.0
        else:
            gen_amps -= gen_amps * dt / 0.1
            battery_amps = amps + c.base_load_a
            goal = battery.open_volts - pol - rb * battery_amps
            volts += (goal - volts) * dt / 0.004
            lag = fade * amps - pol
            pol += lag * dt / (6.0 if lag > 0.0 else 45.0)

        # The rotor.
        if n > 0.01:
            power = gas_air * c.cp_gas * t4 * drop_gg - air * c.cp_air * rise
            if gen:  # the base load is in the friction
                power -= (demand_a - c.generator_load_a) * volts / c.generator_efficiency
            torque = power / (omega + 4.0) + push - c.friction_nm * (0.3 + 0.7 * min(n / 4.0, 1.0))
        else:
            torque = push - 0.3 * c.friction_nm
        n += torque / c.inertia_kg_m2 / c.rad_s_per_pct * dt
        if n < 0.0:
            n = 0.0

        # Temperatures behind the gas generator turbine, metal and probe.
        t5 = t4 * (1.0 - drop_gg)
        flow = air / c.air_kg_s
        # Near metal the probe reads partly metal, the more the less gas flows; the glow of a flame makes up
        # for half of that. In still air it creeps towards the metal.
        share = 0.06 + 0.50 * exp(-flow / 0.45) + 0.44 * exp(-flow / 0.015)
        seen = share * (1.0 - 0.5 * fresh)
        gas = t5 + seen * (hot - t5)
        hot += (
            (share * air * c.cp_gas * (t5 - hot) - c.hot_to_case_w_per_k * (hot - case))
            * dt
            / c.hot_metal_j_per_k
        )
        case += (
            (c.hot_to_case_w_per_k * (hot - case) - c.case_to_air_w_per_k * (case - oat))
            * dt
            / c.case_j_per_k
        )
        tau = c.probe_s + (c.probe_still_s - c.probe_s) / (1.0 + (flow / 0.02) ** 4)
        probe += (gas - probe) * dt / tau

        # Power turbine and propeller.
        if n > 5.0:
            pt = (
                gas_air
                * c.cp_gas
                * t5
                * 0.85
                * (1.0 - exp(-kappa * f_pt * le))
                * min(1.0, max(0.0, (r - 0.18) / 0.5))
            )
        else:
            pt = 0.0
        drive = pt / (omega_p + 12.0)
        over = omega_p - gov_rad_s
        coarse += 3000.0 * over * dt
        if coarse < 0.0:
            coarse = 0.0
        if lever < FLIGHT_GATE_PCT or pitch != 1.0:
            # Below the flight gate the lever sets the blades: flat in the middle, then against the motion.
            flat = 1.0 - (1.0 - c.flat_pitch_load) * min(
                (FLIGHT_GATE_PCT - min(lever, FLIGHT_GATE_PCT)) / (FLIGHT_GATE_PCT - REVERSE_GATE_PCT), 1.0
            )
            back = max(REVERSE_GATE_PCT - lever, 0.0) * c.reverse_load_per_pct
            pitch += (flat + back - pitch) * dt / c.pitch_s
            if lever >= FLIGHT_GATE_PCT and abs(pitch - 1.0) < 1e-6:
                pitch = 1.0
        load = fine * pitch * omega_p * omega_p + 6.0 * min(omega_p, 1.0) + coarse + max(0.0, 900.0 * over)
        omega_p += (drive - load) / c.prop_inertia_kg_m2 * dt
        if omega_p < 0.0:
            omega_p = 0.0

        oil_goal = (oat - 273.15) + (25.0 + 42.0 * r if n > 40.0 else 0.0)
        oil += (oil_goal - oil) * dt / (240.0 if n > 40.0 else 1500.0)
        oil_press = 102.0 * min(1.0, r / 0.62) ** 0.8 + 4.0 * max(0.0, (60.0 - oil) / 60.0) * min(
            1.0, r / 0.3
        )

        a_ng(n)
        a_itt(probe - 273.15)
        a_wf(wf)
        a_v(volts)
        a_ib(battery_amps)
        a_ig(gen_amps)
        a_np(omega_p * 30.0 / math.pi)
        a_tq(100.0 * drive / c.torque_100_nm)
        a_ot(oil)
        a_op(oil_press)
        a_pl(lever)
        a_st(1.0 if engaged else 0.0)
        a_ign(float(ignition))
        a_fu(float(fuel))
        a_gen(1.0 if gen else 0.0)
        a_bl(float(bleed))
        a_sep(float(separator))
        a_lit(1.0 if lit else 0.0)

    return EngineStates({name: np.frombuffer(column, dtype=np.float64) for name, column in out.items()})
