"""What the wizard for a new profile asks: a page for each question, in the order of a manual. By table; no values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from debrief.profile.gaps import needed_for
from debrief.session.profiles.profile_fields import Column, Field
from debrief.words.numbers import unit_words
from debrief.words.profile_keys import key_title

Quantity = Literal["temperature", "speed", "time"]

UNITS: Mapping[Quantity, tuple[str, ...]] = {
    "temperature": ("degC", "degF"),
    "speed": ("%", "rpm"),
    "time": ("s", "min"),
}
"""What a page may be answered in, the first unless another is chosen."""

TABLE = "limits.start.itt"
RUNNING = "limits.running"
COUNT = "limits.start.count"
FULL_NG = "engine.reference_rpm.ng"
FULL_NP = "engine.reference_rpm.np"
FULL_TORQUE = "engine.reference_torque"


@dataclass(frozen=True)
class Question:
    """One field of a page.

    Attributes
    ----------
    key : str
        Of the profile with its table, such as ``start.idle_ng_pct``; of several keys a name of this module.
    field : Field
        How it is asked; a number's `quantity` follows the unit of the page.
    quantity : str
        Empty: the number is in the unit that its title names.
    suggested : str
        Common practice, which is only filled in when it is asked for.
    """

    key: str
    field: Field
    quantity: Quantity | Literal["", "rise"] = ""
    suggested: str = ""


@dataclass(frozen=True)
class Page:
    """One question of the wizard.

    Attributes
    ----------
    name : str
        In the list of pages.
    title, place : str
        The question, and in which part of a manual the answer usually stands.
    questions : tuple of Question
    note : str
        What else is to be known.
    """

    name: str
    title: str
    place: str
    questions: tuple[Question, ...]
    note: str = ""
    keys: tuple[str, ...] = field(default=())

    @property
    def quantities(self) -> tuple[Quantity, ...]:
        """The quantities whose unit is chosen for the page."""
        found = {"temperature" if one.quantity == "rise" else one.quantity for one in self.questions}
        return tuple(one for one in UNITS if one in found)

    @property
    def judges(self) -> tuple[str, ...]:
        """What cannot be judged without this page."""
        return needed_for([*(one.key for one in self.questions), *self.keys])


def _number(
    key: str,
    title: str = "",
    quantity: Quantity | Literal["", "rise"] = "",
    hint: str = "",
    suggested: str = "",
) -> Question:
    words, unit = key_title(key.rpartition(".")[2])
    title = title or words[:1].upper() + words[1:]
    if not quantity and unit:
        title = f"{title}, {unit_words(unit)}"
    return Question(key, Field(key, title, hint=hint), quantity, suggested)


def _text(key: str, title: str, hint: str = "", kind: Literal["text", "long_text"] = "text") -> Question:
    return Question(key, Field(key, title, kind, hint))


_DUTY = (Column("run_s", "Run for"), Column("rest_s", "Then rest for"))

RUNNING_ROWS = (
    ("itt", "overtemp", "ITT, highest", ("degC", "degF")),
    ("torque", "overtorque", "Torque, highest", ("%", "lbf ft", "N m")),
    ("ng", "overspeed_ng", "Ng, highest", ("%", "rpm")),
    ("np", "overspeed_np", "Np, highest", ("rpm", "%")),
    ("oil_temp", "oil_temp_high", "Oil temp., highest", ("degC", "degF")),
    ("oil_press", "oil_press_low", "Oil pressure, lowest", ("psi", "bar", "kPa")),
)
"""Channel, finding, words and units of each row of the running levels."""

PAGES = (
    Page(
        "Engine",
        "Which engine, and where do the numbers come from?",
        "Title page of the manual and its list of revisions.",
        (
            _text("name", "Name", "printed on every page, such as: our trainer, engine limits"),
            _text("aircraft", "Aircraft", "type"),
            _text("manual", "Manual", "title or number, and chapter"),
            _text("manual_revision", "Its revision"),
            _text("manual_date", "Its date"),
            _text("entered_by", "Entered by", "who types the numbers"),
            _text("entered_on", "Entered on", "YYYY-MM-DD"),
            _text("checked_by", "Checked by", "another person, who held them against the manual"),
            _text("checked_on", "Checked on", "YYYY-MM-DD"),
            Question("approved_data", Field("approved_data", "Approved data", "flag",
                     "Those of the approved manual, checked by a person")),
        ),
    ),
    Page(
        "Idle",
        "When is the engine at idle?",
        "Normal procedures, engine start: the Ng to wait for after light-off. Engine limits section: idle speed.",
        (
            _number("start.idle_ng_pct", "Ng at idle", "speed"),
            _number("start.idle_within_s", "Longest time from light-off to idle", "time"),
            _number(FULL_NG, "Ng at 100 %, rpm", hint="only where Ng is given in rpm"),
        ),
    ),
    Page(
        "Starter",
        "How long may the starter run, and how long must it rest?",
        "Engine limits section: starter duty cycle, or starter operating limits.",
        (
            Question("starter.duty", Field("starter.duty", "Runs in order; the last row repeats", "rows",
                     columns=_DUTY), "time"),
            Question("starter.external_duty", Field("starter.external_duty", "From external power, where that differs",
                     "rows", columns=_DUTY), "time"),
            _number("starter.reset_after_s", "Rest after which the cycle restarts", "time"),
            _number("start.max_engage_ng_pct", "Highest Ng to engage the starter"),
        ),
        "A time may be written as 45, 45 s, 30 min or 1:30.",
    ),
    Page(
        "Fuel and light-off",
        "At which Ng may fuel come in, and how soon must it light?",
        "Normal procedures, engine start. Abnormal procedures: no light-off.",
        (
            Question("start.fuel_control", Field("start.fuel_control", "Who opens the fuel", "choice",
                     choices=("manual", "automatic"))),
            _number("start.min_fuel_ng_pct", "Least Ng for fuel"),
            _number("start.advised_fuel_ng_pct", "Advised Ng for fuel"),
            _number("start.light_off_within_s", "Longest wait from fuel to light-off", "time"),
        ),
    ),
    Page(
        "Start temperature",
        "How hot, and for how long, may a start be?",
        "Engine limits section: starting temperature. Maintenance manual: chart of overtemperature during start.",
        (
            Question(TABLE, Field(TABLE, "Allowed in a start", "rows", columns=(
                Column("above", "Above"), Column("seconds", "No longer than, s"))), "temperature"),
            Question(COUNT, Field(COUNT, "The seconds count", "choice", choices=("total", "longest"))),
            _text("limits.start.reference", "Chapter or figure"),
            _number("start.max_residual_itt_c", "Highest ITT when fuel comes in", "temperature"),
        ),
        "One row for each level of the table, or for each corner of the chart; 0 seconds means not at any time.",
    ),
    Page(
        "Failed start",
        "How is the engine cleared after a failed start?",
        "Abnormal procedures: dry motoring, engine clearing, second attempt.",
        (
            _number("abort.motor_for_s", "Dry motoring after an aborted start", "time"),
            _number("start.purge_s", "Motoring between fuel cut-off and fuel again", "time"),
        ),
    ),
    Page(
        "Running levels",
        "Which levels hold with the engine running?",
        "Engine limits section: operating limits table; colour marks of the instruments.",
        (
            Question(RUNNING, Field(RUNNING, "Levels", "rows", columns=(
                Column("caution", "Caution"), Column("caution_s", "Caution, s"),
                Column("limit", "Limit"), Column("limit_s", "Limit, s"), Column("unit", "Unit", "choice")))),
            _number(FULL_NP, "Np at 100 %, rpm", hint="only where Np is given in %"),
            _number(f"{FULL_TORQUE}.value", "Torque at 100 %", hint="only where torque is not given in %"),
            Question(f"{FULL_TORQUE}.unit", Field("unit", "Unit of that torque", "choice",
                     choices=("lbf ft", "N m"))),
        ),
        "Beside each level the seconds that are allowed beyond it; 0 means not at any time. What the manual does not limit stays empty.",
        keys=("limits.running.itt",),
    ),
    Page(
        "Voltage",
        "Which voltage must the battery hold?",
        "Normal procedures, before start. Electrical system limits.",
        (
            _number("start.min_bus_volts_before", "Least resting voltage before the start"),
            _number("start.min_bus_volts", "Least voltage while the starter turns (after its first second)"),
            _number("start.nominal_bus_volts", "Nominal voltage"),
        ),
    ),
    Page(
        "Propeller in flight",
        "Where is the flight gate of the power lever?",
        "Propeller control section. Lift-off speed: performance section.",
        (
            _number("flight.flight_gate_power_lever_pct", "Power lever at the flight gate"),
            _number("flight.reverse_gate_power_lever_pct", "Power lever below which the blades reverse"),
            _number("flight.airborne_ias_kt", "Airspeed from which the aircraft flies"),
        ),
        "Only where the recording has a power lever that is calibrated.",
    ),
    Page(
        "Shutdown",
        "How long must the engine settle before the fuel is cut?",
        "Normal procedures, engine shutdown.",
        (
            _number("shutdown.settle_s", "Least time at rest before the fuel cut-off", "time"),
            _number("shutdown.settle_itt_c", "ITT below which it is at rest", "temperature"),
        ),
        "Without an ITT it is at rest at idle.",
    ),
    Page(
        "Use of life",
        "How does the manual count cycles and the use of the hot section?",
        "Airworthiness limitations: counting of cycles. Data of the maker on the hot section.",
        (
            _number("life.cycle_factor", "Part of a cycle that a further take-off counts"),
            _number("life.reference_itt_c", "Reference ITT", "temperature"),
            _number("life.larson_miller_c", "Larson-Miller constant"),
            _number("life.reference_life_h", "Life at the reference ITT, h"),
        ),
        "What is told of it is relative, never a life that is left. A power check is entered in the profile editor.",
    ),
    Page(
        "How it is recognised",
        "How is a light-off, a hang or a standing engine told from a recording?",
        "seldom in one: these are rules of reading. Where the manual has a number, it goes first.",
        (
            _number("start.stopped_ng_pct", "Ng below which the engine stands", suggested="5"),
            _number("start.idle_tolerance_pct", "Idle is reached this much below idle Ng", suggested="1"),
            _number("start.light_off_rise_c", "Rise of ITT that is a light-off", "rise", suggested="40"),
            _number("start.stable_ng_rate_pct_per_s", "Ng is stable when it gains less than", suggested="0.3"),
            _number("start.stable_for_s", "Time for which it is so, before fuel", suggested="2"),
            _number("start.hung_ng_rate_pct_per_s", "Ng hangs when it gains less than", suggested="0.3"),
            _number("start.hung_for_s", "Time for which it is so, before idle", suggested="5"),
            _number("start.after_cut_rise_c", "Rise of ITT after fuel cut-off that is a fire", "rise", suggested="150"),
        ),
    ),
)  # fmt: skip
