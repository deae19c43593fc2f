"""Constants, inputs and outputs of the engine model. All constants are invented and match no real engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

STEP_S = 0.001
"""Step of the integration, [s]."""

SLOW_STEPS = 100
"""The surroundings (`Surroundings`) are renewed every this many steps."""


@dataclass(frozen=True)
class EngineConstants:
    """Constants of the model, SI units unless the name says otherwise."""

    rad_s_per_pct: float = 40.422  # 100 % is 38 600 rpm
    inertia_kg_m2: float = 0.091
    friction_nm: float = 1.1
    air_kg_s: float = 3.1  # at 100 % on a standard day
    air_exponent: float = 1.25
    pressure_rise: float = 6.3  # pressure ratio at 100 % less one
    pressure_exponent: float = 2.4
    work_split: float = 0.60  # share of the expansion (logarithmic) in the gas generator turbine
    cp_air: float = 1004.0
    cp_gas: float = 1150.0
    fuel_j_per_kg: float = 43.0e6
    burner_efficiency: float = 0.93
    probe_s: float = 0.9  # thermocouple time constant in flow
    probe_still_s: float = 90.0  # and in still air
    hot_metal_j_per_k: float = 16.0e3
    hot_to_case_w_per_k: float = 14.0
    case_j_per_k: float = 90.0e3
    case_to_air_w_per_k: float = 35.0
    light_off_delay_s: float = 1.1
    pooled_share: float = 0.65  # share of unlit fuel that stays in the burner
    pool_burn_s: float = 1.6
    pool_drain_s: float = 12.0  # at motoring speed
    starter_ke: float = 0.029  # V s/rad at stall; also N m/A
    field_weakening_pct: float = 55.0
    armature_mohm: float = 8.0
    current_limit_a: float = 430.0
    inrush_a: float = 420.0
    inrush_s: float = 0.12
    base_load_a: float = 35.0
    generator_volts: float = 28.3
    generator_load_a: float = 90.0
    prop_inertia_kg_m2: float = 14.0
    prop_fine_nm_s2: float = 0.055  # torque of the propeller in fine pitch over the speed squared
    torque_100_nm: float = 2847.0  # 2100 lbf ft
    max_np_rpm: float = 1850.0  # governed
    bleed_share: float = 0.035  # of the compressor's air, while bleed is on
    separator_loss: float = 0.025  # of the pressure, while the separator is on
    generator_efficiency: float = 0.70
    flat_pitch_load: float = 0.55  # load of flat blades against that of fine pitch
    reverse_load_per_pct: float = 0.05
    reverse_ng_per_pct: float = 2.0
    pitch_s: float = 0.8  # time constant of the blades


@dataclass(frozen=True)
class Battery:
    """Open-circuit voltage, [V], and resistance of battery and cables, [mohm].

    `fade_mohm` is the further resistance that builds up over some ten seconds of discharge and goes back
    over a minute: small in a healthy battery, large in a tired one.
    """

    open_volts: float = 25.45
    resistance_mohm: float = 12.5
    fade_mohm: float = 0.4


@dataclass(frozen=True)
class Surroundings:
    """Outside conditions for every `SLOW_STEPS` steps: each list has one value per such interval.

    `oat_k` [K]; `pressure_ratio` of ambient to 101 325 Pa, including ram; `tailwind_kt` [kt] at the exhaust;
    `ias_kt` [kt] unloads the propeller's blades in fine pitch.
    """

    oat_k: Sequence[float]
    pressure_ratio: Sequence[float]
    tailwind_kt: Sequence[float]
    ias_kt: Sequence[float]


@dataclass(frozen=True)
class Change:
    """At `step` the input `name` takes `value`.

    Names: ``starter, fuel, ignition, generator, power_lever, bleed, separator, generator_load,
    light_off_possible, metering, leak, starter_held``.
    """

    step: int
    name: str
    value: float


@dataclass(frozen=True)
class Initial:
    """State at the first step. `hot_c` and `case_c` None: at outside temperature."""

    hot_c: float | None = None
    case_c: float | None = None
    oil_c: float | None = None


@dataclass(frozen=True)
class EngineStates:
    """The states at every step. All arrays (n,); `lit`, `starter`, `generator_on` are 0 or 1.

    Columns: ``ng`` %, ``itt`` degC, ``fuel_flow`` kg/h, ``bus_volts`` V, ``battery_amps`` A (discharge
    positive), ``generator_amps`` A, ``np`` rpm, ``torque`` %, ``oil_temp`` degC, ``oil_press`` psi,
    ``power_lever`` %, ``starter``, ``ignition``, ``fuel_on``, ``generator_on``, ``bleed``,
    ``separator``, ``lit``.
    """

    columns: dict[str, FloatArray] = field(default_factory=dict)
