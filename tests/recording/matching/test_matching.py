"""Columns become channels by evidence, and whatever is unsure is asked for."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.lexicon import load, match_name, split_unit, wanted_word
from debrief.recording.model import Recording
from debrief.recording.reader import read
from debrief.words.channels import CANONICAL
from debrief.words.units import QUANTITIES, find_unit

Write = Callable[..., Path]


def _read(write: Write, columns: dict[str, list[float | str]], **options: object) -> Recording:
    count = len(next(iter(columns.values())))
    lines = [",".join(["time", *(f'"{name}"' for name in columns)])]
    lines += [",".join([str(i), *(str(values[i]) for values in columns.values())]) for i in range(count)]
    return read(write("\n".join(lines) + "\n"), **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("channel", CANONICAL)
def test_every_canonical_name_is_its_own_channel(channel: str, write: Write) -> None:
    recording = _read(write, {channel: [0, 1, 1, 0]})
    assert recording.channels[channel].unit == CANONICAL[channel]
    assert recording.channels[channel].map_source == "header"


def test_every_sure_name_of_the_lexicon_belongs_to_one_channel() -> None:
    owners: dict[str, list[str]] = {}
    for channel, entry in load().channels.items():
        for name, confidence in entry.names.items():
            if confidence > 0.9:
                owners.setdefault(name, []).append(channel)
    assert {name: chs for name, chs in owners.items() if len(chs) > 1} == {}


def test_every_unit_of_the_lexicon_can_be_converted() -> None:
    for channel, entry in load().channels.items():
        for name in entry.highest:
            unit = find_unit(name)
            assert unit is not None, name
            assert unit.quantity in QUANTITIES[channel], (channel, name)


@pytest.mark.parametrize(
    ("header", "channel", "engine"),
    [
        ("ITT", "itt", None),
        ("Eng ITT", "itt", None),
        ("Interturbine Temperature", "itt", None),
        ("EGT", "itt", None),
        ("N1", "ng", None),
        ("Gas Generator Speed", "ng", None),
        ("NgRpm", "ng", None),
        ("Prop RPM", "np", None),
        ("Eng Oil Press, psi", "oil_press", None),
        ("P_Oil_psi", "oil_press", None),
        ("OilTemp", "oil_temp", None),
        ("T_Oil", "oil_temp", None),
        ("ITT 1", "itt", 1),
        ("No. 2 ITT", "itt", 2),
        ("E2 ITT", "itt", 2),
        ("ENG2_ITT", "itt", 2),
        ("ITT RH", "itt", 2),
        ("Left Torque", "torque", 1),
        ("Battery Current", "battery_amps", None),
        ("DC Bus Voltage", "bus_volts", None),
        ("Outside Air Temp", "oat", None),
        ("Pressure Altitude", "palt", None),
        ("WOW", "weight_on_wheels", None),
        ("GPU", "external_power", None),
    ],
)
def test_trade_names(header: str, channel: str, engine: int | None) -> None:
    best = match_name(header)[0]
    assert (best.channel, best.engine) == (channel, engine)
    assert best.confidence >= 0.7


@pytest.mark.parametrize(
    ("header", "parts"),
    [
        ("ITT (degF)", (("ITT", "degF"),)),
        ("RPM (actual %)", (("RPM actual", "%"),)),
        ("Note (x)", (("Note (x)", ""),)),
        ("T_Oil_c", (("T_Oil_c", ""), ("T_Oil", "c"))),
    ],
)
def test_a_unit_is_split_from_a_header(header: str, parts: tuple[tuple[str, str], ...]) -> None:
    assert split_unit(header) == parts


@pytest.mark.parametrize(
    "header", ["Fred", "Title", "Sequence Number", "CRC16", "Pump Volts", "Cabin Temp", "Flap"]
)
def test_other_names_are_not_taken_for_a_channel(header: str, write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21, 22], header: [1.5, 2.5, 3.5]})
    assert list(recording.channels) == ["itt"]
    assert list(recording.unmapped) == [header]


def test_an_unmapped_column_keeps_its_name_unit_and_values(write: Write) -> None:
    channel = _read(write, {"ITT (degC)": [20, 21], "Cabin Temp (degF)": [70, 71]}).unmapped[
        "Cabin Temp (degF)"
    ]
    assert channel.unit == "degF"
    assert channel.values.tolist() == [70.0, 71.0]
    assert channel.map_source == "none"


def test_a_speed_that_reaches_105_is_a_percentage(write: Write) -> None:
    assert _read(write, {"N1": [0, 60, 105]}).channels["ng"].unit == "%"


def test_a_speed_in_the_ten_thousands_is_in_rpm(write: Write) -> None:
    channel = _read(write, {"N1": [0, 22000, 38000]}).channels["ng"]
    assert channel.unit == "rpm"
    assert channel.values.max() == 38000.0


def test_a_speed_that_stayed_low_is_still_a_percentage(write: Write) -> None:
    # A start that never got beyond motoring must not become thousands of rpm.
    channel = _read(write, {"ITT": [20, 21, 22], "Ng": [0, 3, 4]}).channels["ng"]
    assert (channel.unit, channel.values.max()) == ("%", 4.0)


@pytest.mark.parametrize(
    ("header", "values", "options"),
    [
        ("Oil Press", [0, 3, 7], ("psi", "bar")),
        ("Fuel Press", [0, 3, 7], ("psi", "bar")),
        ("Oil Press", [0, 300, 600], ("psi", "kPa")),
        ("Np", [0, 60, 100], ("%",)),
    ],
)
def test_values_that_suit_another_unit_too_are_asked_for(
    header: str, values: list[float], options: tuple[str, ...], write: Write
) -> None:
    recording = _read(write, {"ITT": [20, 21, 22], header: values})
    assert list(recording.channels) == ["itt"]
    question = next(q for q in recording.provenance.questions if header in q)
    assert all(f'"{header}:{unit}"' in question for unit in options)


@pytest.mark.parametrize("header", ["Oil Press", "Np", "Ng"])
def test_zero_is_zero_in_every_unit(header: str, write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21, 22], header: [0, 0, 0]})
    assert len(recording.channels) == 2


def test_oil_pressure_that_reaches_sixty_is_in_psi(write: Write) -> None:
    assert (
        _read(write, {"ITT": [20, 21, 22], "Oil Press": [0, 40, 60]}).channels["oil_press"].values.max()
        == 60.0
    )


def test_a_speed_of_neither_kind_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21, 22], "N1": [0, 400, 900]})
    assert "ng" not in recording.channels
    assert any('--map ng="N1:%" or --map ng="N1:rpm"' in q for q in recording.provenance.questions)


def test_a_percentage_that_reaches_thousands_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21, 22], "N1 (%)": [0, 22000, 38000]})
    assert "ng" not in recording.channels
    assert any("said to be in % but reaches 38000" in q for q in recording.provenance.questions)


def test_a_temperature_that_idles_at_1100_is_fahrenheit_and_that_is_said(write: Write) -> None:
    recording = _read(
        write, {"ITT": [60.0] * 5 + [1400.0] + [1100.0] * 40, "Ng (%)": [0.0] * 5 + [58.0] * 41}
    )
    assert recording.channels["itt"].column_unit == "degF"
    assert recording.channels["itt"].values[-1] == pytest.approx(593.333, abs=0.01)
    assert any(
        '"ITT" tells no unit; degF was taken by its values' in d for d in recording.provenance.decisions
    )


def test_a_temperature_that_suits_either_unit_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [60.0] * 5 + [950.0] * 40, "Ng (%)": [0.0] * 5 + [58.0] * 40})
    assert "itt" not in recording.channels
    assert any('--map itt="ITT:degF" or --map itt="ITT:degC"' in q for q in recording.provenance.questions)


def test_a_temperature_without_unit_beside_fahrenheit_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT (degF)": [70, 900, 1000], "Oil Temp": [70, 80, 90]})
    assert list(recording.channels) == ["itt"]
    assert any("other columns are in degF" in q for q in recording.provenance.questions)


def test_a_hot_oil_temperature_without_unit_is_asked_for_and_not_taken_as_fahrenheit(write: Write) -> None:
    recording = _read(write, {"ITT (degC)": [20, 500, 600], "Oil Temp": [20, 100, 162]})
    assert "oil_temp" not in recording.channels
    assert any("oil_temp" in q for q in recording.provenance.questions)


def test_fuel_flow_without_unit_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "Fuel Flow": [100, 120]})
    assert "fuel_flow" not in recording.channels
    assert any('"Fuel Flow:kg/h" or' in q and '"Fuel Flow:lb/h"' in q for q in recording.provenance.questions)


def test_fuel_flow_by_volume_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "Fuel Flow (gph)": [10, 12]})
    assert "fuel_flow" not in recording.channels
    assert any("gal/h" in q for q in recording.provenance.questions)


def test_torque_without_unit_beyond_a_percentage_is_asked_for(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "Torque": [100, 1500]})
    assert "torque" not in recording.channels
    assert any('"Torque:lbf ft" or' in q for q in recording.provenance.questions)


def test_a_unit_of_something_else_is_asked_for(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "ITT (psi)": [20, 21]})
    assert "itt" not in recording.channels
    assert any("its unit is psi" in q for q in recording.provenance.questions)


def test_a_lever_position_is_no_state(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "Condition Lever": [0, 55]})
    assert "fuel_on" not in recording.channels
    assert any("no states" in q for q in recording.provenance.questions)


def test_two_columns_of_one_name_with_different_values_leave_the_channel_open(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "ITT": [20, 21], "itt": [30, 31]})
    assert "itt" not in recording.channels
    question = next(q for q in recording.provenance.questions if "2 columns may be itt" in q)
    assert '--map itt="ITT"' in question
    assert '--map itt="itt"' in question
    assert {"ITT", "itt"} <= set(recording.unmapped)


def test_two_columns_of_exactly_one_name_are_told_apart_by_number(write: Write) -> None:
    text = "time,ng,ITT,ITT\n0,10,20,30\n1,11,21,31\n"
    recording = read(write(text))
    assert "itt" not in recording.channels
    assert any('--map itt="#3" or --map itt="#4"' in q for q in recording.provenance.questions)
    assert {"ITT", "ITT (column 4)"} <= set(recording.unmapped)
    assert read(write(text), maps=["itt=#4"]).channels["itt"].values.tolist() == [30.0, 31.0]


def test_two_columns_with_the_same_values_are_one_channel_and_that_is_said(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "itt": [20, 21]})
    assert recording.channels["itt"].values.tolist() == [20.0, 21.0]
    assert any("hold the same values" in d for d in recording.provenance.decisions)


def test_the_same_quantity_in_two_units_is_taken_in_the_canonical_one_and_that_is_asked(write: Write) -> None:
    recording = _read(write, {"N1 (rpm)": [0, 30000], "N1 (%)": [0, 78]})
    assert recording.channels["ng"].unit == "%"
    assert any('--map ng="N1 (rpm)"' in q for q in recording.provenance.questions)


def test_a_percentage_of_something_else_is_not_taken_for_the_speed(write: Write) -> None:
    # Some controls write how far between idle and full speed the engine is; it stands at 0 up to idle.
    speeds: dict[str, list[float | str]] = {"N1 (rpm)": [0, 30000, 60000, 100000], "N1 (%)": [0, 0, 30, 100]}
    recording = _read(write, {"ITT": [20, 500, 600, 700], **speeds})
    assert "ng" not in recording.channels
    assert any('--map ng="N1 (rpm):rpm" or --map ng="N1 (%):%"' in q for q in recording.provenance.questions)


def test_speeds_that_may_be_in_thousands_are_asked_for(write: Write) -> None:
    recording = _read(write, {"N1": [0, 60, 104], "N2": [0, 20, 30]})
    assert recording.channels["ng"].unit == "%"
    assert "np" not in recording.channels
    assert any('--map ng="N1:krpm"' in q for q in recording.provenance.questions)
    assert any('"N2:krpm"' in q for q in recording.provenance.questions)


def test_the_surer_name_wins_and_the_other_is_named(write: Write) -> None:
    recording = _read(write, {"EGT (degC)": [30, 31], "ITT (degC)": [20, 21]})
    assert recording.channels["itt"].column == "ITT (degC)"
    assert any('"EGT (degC)" may be it too' in q for q in recording.provenance.questions)


def test_a_second_engine_by_word(write: Write) -> None:
    recording = _read(
        write, {"Eng1 ITT": [20, 21], "Eng2 ITT": [30, 31], "Eng1 Ng": [1, 2], "Eng2 Ng": [3, 4]}
    )
    assert sorted(recording.channels) == ["itt", "itt.2", "ng", "ng.2"]
    assert recording.channels["itt.2"].values.tolist() == [30.0, 31.0]
    assert recording.engines == (1, 2)


def test_a_second_engine_by_bare_numbers_of_two_quantities(write: Write) -> None:
    recording = _read(write, {"ITT 1": [20, 21], "ITT 2": [30, 31], "Torque 1": [1, 2], "Torque 2": [3, 4]})
    assert sorted(recording.channels) == ["itt", "itt.2", "torque", "torque.2"]


def test_bare_numbers_of_one_quantity_may_be_probes_and_are_asked_for(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "ITT 1": [20, 21], "ITT 2": [30, 31]})
    assert list(recording.channels) == ["ng"]
    assert any("probes of one engine or one of each of two" in q for q in recording.provenance.questions)


def test_an_unsure_column_stays_unmapped_with_the_option_that_settles_it(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "Temp 3 (degF)": [20, 21]})
    assert "itt" not in recording.channels
    question = next(q for q in recording.provenance.questions if "Temp 3" in q)
    assert '--map itt="Temp 3 (degF):degF"' in question
    settled = _read(write, {"Ng": [10, 11], "Temp 3 (degF)": [32, 212]}, maps=["itt=Temp 3 (degF):degF"])
    assert settled.channels["itt"].values.tolist() == [0.0, 100.0]
    assert settled.channels["itt"].map_source == "option"
    assert settled.channels["itt"].confidence == 1.0


def test_longer_names_hint_at_a_channel_that_was_not_found(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "PLC_N1_Filtered": [10, 11]})
    assert any(
        "ng was not found" in q and '--map ng="PLC_N1_Filtered"' in q for q in recording.provenance.questions
    )


MAPS = {
    "by name and unit": ("itt=Temp 3:degF", 100.0),
    "by name": ("itt=Temp 3", 212.0),
    "by name in another case": ("itt=temp 3:degF", 100.0),
    "by number": ("itt=#3:degF", 100.0),
    "channel in capitals": ("ITT=Temp 3:degF", 100.0),
    "engine one by number": ("itt.1=Temp 3:degF", 100.0),
}


@pytest.mark.parametrize("name", MAPS)
def test_maps(name: str, write: Write) -> None:
    text, value = MAPS[name]
    recording = _read(write, {"Ng": [10, 11], "Temp 3": [32, 212]}, maps=[text])
    assert recording.channels["itt"].values[-1] == pytest.approx(value)


def test_a_map_to_a_second_engine(write: Write) -> None:
    recording = _read(write, {"ITT": [20, 21], "Temp R": [30, 31]}, maps=["itt.2=Temp R:degC"])
    assert sorted(recording.channels) == ["itt", "itt.2"]


def test_a_column_name_with_equals_sign_and_colon(write: Write) -> None:
    recording = _read(
        write, {"Ng": [10, 11], "T=x:y": [30, 31], "Temp:C": [40, 41]}, maps=["itt=T=x:y", "oat=Temp:C"]
    )
    assert recording.channels["itt"].values.tolist() == [30.0, 31.0]
    assert recording.channels["oat"].values.tolist() == [40.0, 41.0]


def test_a_map_wins_over_a_header(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "ITT": [20, 21], "Temp 3": [30, 31]}, maps=["itt=Temp 3:degC"])
    assert recording.channels["itt"].column == "Temp 3"
    assert "ITT" in recording.unmapped


def test_a_map_without_unit_uses_the_headers(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "Probe (degF)": [32, 212]}, maps=["itt=Probe"])
    assert recording.channels["itt"].values.tolist() == [0.0, 100.0]


def test_a_map_without_any_unit_says_what_it_took(write: Write) -> None:
    recording = _read(write, {"Ng": [10, 11], "Flow": [32, 212]}, maps=["fuel_flow=Flow"])
    assert recording.channels["fuel_flow"].unit == "kg/h"
    assert any('"Flow" tells no unit; kg/h was taken' in d for d in recording.provenance.decisions)


def test_remembered_maps_are_used_for_their_header_and_give_way_to_said_ones(write: Write) -> None:
    columns: dict[str, list[float | str]] = {"Ng": [10, 11], "Temp 3": [32, 212], "Temp 4": [40, 41]}
    signature = _read(write, columns).provenance.header_signature
    known = {signature: ["itt=Temp 3:degF"], "other": ["itt=Temp 4:degC"]}
    recording = _read(write, columns, remembered=known)
    assert recording.channels["itt"].values.tolist() == [0.0, 100.0]
    assert recording.channels["itt"].map_source == "remembered"
    said = _read(write, columns, remembered=known, maps=["itt=Temp 4:degC"])
    assert said.channels["itt"].values.tolist() == [40.0, 41.0]
    assert said.channels["itt"].map_source == "option"


def test_identity_columns_tell_aircraft_and_serial(write: Write) -> None:
    columns: dict[str, list[float | str]] = {
        "Registration": ["ZZ-TRN"] * 2,
        "Engine Serial": ["TG7-1"] * 2,
        "ITT": [20, 21],
    }
    identity = _read(write, columns).identity
    assert (identity.aircraft, identity.aircraft_source) == ("ZZ-TRN", "column")
    assert (identity.engine_serial, identity.engine_serial_source) == ("TG7-1", "column")


# --- columns that are not used ------------------------------------------------------------------------


def test_a_column_said_to_be_not_used_is_not_asked_about_and_stays_for_plotting(write: Write) -> None:
    columns: dict[str, list[float | str]] = {
        "N1": [0, 900],
        "PLC ITT probe": [20, 70],
        "Oil Temp (degC)": [20, 21],
    }
    asked = _read(write, columns).provenance.questions
    assert [name for name in columns if any(f'"{name}"' in question for question in asked)] == [
        "N1",
        "PLC ITT probe",
    ]
    recording = _read(write, columns, maps=["none=N1", "none=#3"])
    assert recording.provenance.questions == ()
    assert '"N1" is not used, as was said' in recording.provenance.decisions
    assert '"PLC ITT probe" is not used, as was said' in recording.provenance.decisions
    assert list(recording.channels) == ["oil_temp"]
    assert {name: c.map_source for name, c in recording.unmapped.items()} == {
        "N1": "none",
        "PLC ITT probe": "none",
    }


def test_a_recognised_column_can_be_said_to_be_not_used_and_another_then_takes_its_place(
    write: Write,
) -> None:
    columns: dict[str, list[float | str]] = {"ITT (degC)": [20, 21], "Eng ITT (degC)": [20, 99]}
    assert _read(write, columns).channels["itt"].column == "ITT (degC)"
    recording = _read(write, columns, maps=["none=ITT (degC)"])
    assert recording.channels["itt"].column == "Eng ITT (degC)"


def test_a_time_column_said_to_be_not_used_leaves_the_time_to_the_other(write: Write) -> None:
    path = write("time,Elapsed (s),ITT (degC)\n0,0,20\n1,2,21\n2,4,22\n")
    recording = read(path, maps=["none=time"])
    assert recording.provenance.time_source.startswith('column "Elapsed (s)"')
    assert recording.duration_s == 4.0
    assert recording.provenance.questions == ()


def test_what_is_remembered_as_not_used_is_added_to_what_is_said(write: Write) -> None:
    columns: dict[str, list[float | str]] = {"A": [1, 2], "N1": [0, 900], "ITT (degC)": [20, 21]}
    signature = _read(write, columns).provenance.header_signature
    kept = {signature: ("none=N1", "none=A", "itt=ITT (degC)")}
    recording = _read(write, columns, maps=["none=#2"], remembered=kept)
    assert '"A" is not used, as was said' in recording.provenance.decisions
    assert '"N1" is not used, as is remembered' in recording.provenance.decisions
    told = _read(write, columns, maps=["ng=N1:rpm"], remembered=kept)
    assert told.channels["ng"].map_source == "option"


@pytest.mark.parametrize(
    ("maps", "words"),
    [
        (["none=N1:%"], "takes no unit"),
        (["none=N1", "ng=N1"], "that it is used and that it is not"),
        (["none=Spare"], 'there is no column "Spare"'),
        (["nine=N1"], "none for a column that is not used"),
    ],
)
def test_a_wrong_map_of_an_unused_column_is_refused_in_words(
    write: Write, maps: list[str], words: str
) -> None:
    with pytest.raises(UserError, match=words):
        _read(write, {"N1": [0, 60], "ITT (degC)": [20, 21]}, maps=maps)


_RUNNING = [20.0] * 20 + [600.0, 1100.0, 1173.0, 1050.0] + [860.0] * 40


def _start_in(header: str, temperatures: list[float], tail: str = "") -> str:
    rows = [f"{i},{min(62.0, 1.6 * i):.1f},{t:.0f}{tail}" for i, t in enumerate(temperatures)]
    return f"Time (s),Ng (%),{header}\n" + "\n".join(rows) + "\n"


def test_a_peak_that_is_hot_in_one_unit_and_usual_in_the_other_is_asked(write: Write) -> None:
    recording = read(write(_start_in("ITT", _RUNNING)))
    assert "itt" not in recording.channels
    (question,) = recording.provenance.questions
    assert "hot start in °C and a usual one in °F" in question
    assert '--map itt="ITT:degF"' in question
    assert "itt" in read(write(_start_in("ITT (°C)", _RUNNING))).channels


@pytest.mark.parametrize("name", ["ITT (degC)", "ITT"])
@pytest.mark.parametrize("level", [1100.0, 1200.0, 1372.0])
def test_a_probe_that_opens_does_not_cost_the_unit_of_the_column(
    name: str, level: float, write: Write
) -> None:
    # A start and 40 s at 640 to 690 °C; then the probe is open for the other two minutes.
    values = [15.0] * 5 + [730.0, 700.0] + [640.0 + k % 50 for k in range(40)] + [level] * 120
    recording = _read(write, {"ITT (degC)": values, "Ng (%)": [0.0] * 5 + [62.0 + k % 9 for k in range(162)]})
    assert recording.channels["itt"].column_unit == "degC"
    assert recording.channels["itt"].values[-1] == level


def test_a_temperature_said_to_be_celsius_that_runs_too_hot_for_it_is_asked(write: Write) -> None:
    running = [20.0] * 20 + [1200.0] * 60
    recording = read(write(_start_in("ITT (C)", running)))
    assert "itt" not in recording.channels
    assert "said to be in °C but runs at 1200" in recording.provenance.questions[0]
    mapped = read(write(_start_in("ITT (C)", running)), maps=["itt=ITT (C):degF"])
    assert mapped.channels["itt"].values.max() == pytest.approx((1200 - 32) / 1.8)


def test_a_unit_in_the_cells_helps_to_understand_a_short_name(write: Write) -> None:
    rows = [f"{i},{i % 60} %,{24 + i % 3} V,{i % 50} kg/h" for i in range(40)]
    recording = read(write("Time,Ng,Bus,Fuel\n" + "\n".join(rows) + "\n"))
    assert recording.channels["bus_volts"].column == "Bus"
    assert recording.channels["fuel_flow"].column == "Fuel"
    assert not recording.provenance.questions


# --- what was wanted is not what was measured ---------------------------------------------------------


@pytest.mark.parametrize(
    "header",
    ["RPM (setpoint)", "N1 setpoint", "N1 target (%)", "N1_Target", "ITT limit", "ITT Lim (degC)", "Torque cmd (%)",
     "Torque command [%]", "Demanded Ng (%)", "Ng demand", "commandedTorque", "N1 SP", "Torque set (%)", "Np ref (rpm)",
     "Oil Press Threshold psi", "Set Point Ng", "ITT red line (degC)", "N1 Soll", "Heading bug (deg)", "Requested Np rpm"],
)  # fmt: skip
def test_a_set_point_target_limit_or_command_is_never_offered_as_measured(header: str, write: Write) -> None:
    recording = _read(write, {header: [50, 51], "Oil Temp (degC)": [20, 21]})
    assert list(recording.channels) == ["oil_temp"]
    assert list(recording.unmapped) == [header]
    assert recording.provenance.questions == ()
    said = [d for d in recording.provenance.decisions if "not a measurement" in d]
    assert len(said) == 1
    assert f'"{header}" is not a measurement but a set point, target, limit or command' in said[0]


def test_the_measured_column_is_taken_beside_the_wanted_one_without_a_question(write: Write) -> None:
    columns: dict[str, list[float | str]] = {
        "N1 target (%)": [60, 61],
        "N1 (%)": [59, 60],
        "ITT limit (degC)": [800, 800],
    }
    recording = _read(write, columns)
    assert recording.channels["ng"].column == "N1 (%)"
    assert recording.provenance.questions == ()


def test_a_group_name_over_the_header_tells_a_set_point_too(write: Write) -> None:
    text = "time,Measured,Setpoint,Measured\ns,Ng,Ng,ITT\n,%,%,degC\n0,59,60,500\n1,60,61,501\n2,60,61,502\n"
    recording = read(write(text.replace("time,", "Clock,").replace("\ns,", "\ntime,")))
    assert recording.channels["ng"].values.tolist() == [59, 60, 60]
    assert recording.provenance.questions == ()


def test_a_person_may_still_map_a_set_point(write: Write) -> None:
    recording = _read(write, {"N1 target (%)": [60, 61]}, maps=["ng=N1 target (%)"])
    assert recording.channels["ng"].map_source == "option"


def test_a_state_may_be_known_by_its_command(write: Write) -> None:
    recording = _read(write, {"Starter Cmd": [0, 1], "Ignition cmd": [0, 1], "Fuel Cmd": [0, 1]})
    assert {"starter", "ignition", "fuel_on"} <= set(recording.channels)


@pytest.mark.parametrize("header", ["TGT (degC)", "Offset Ng (%)", "Torque Sensor (%)", "Ng (%)", "Reset"])
def test_a_word_that_only_looks_like_one_does_not_count(header: str) -> None:
    assert wanted_word(header) == ""
