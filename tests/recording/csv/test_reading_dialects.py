"""However a recorder writes its file, the same flight comes out."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from debrief.errors import UserError
from debrief.recording.assembly import match_table
from debrief.recording.body import table_steps
from debrief.recording.model import Recording
from debrief.recording.reader import read, read_steps
from debrief.steps import done

Write = Callable[..., Path]

ROWS = [(0.0, 10.5, 20.0), (0.5, 12.25, 21.5), (1.0, 15.0, 340.0), (1.5, 17.75, 612.5)]


def _text(delimiter: str = ",", decimal: str = ".", end: str = "\n", trailing: str = "") -> str:
    lines = [delimiter.join(["Time (s)", "Ng (%)", "ITT (degC)"]) + trailing]
    lines += [delimiter.join(str(v).replace(".", decimal) for v in row) + trailing for row in ROWS]
    return end.join(lines) + end


def _check(recording: Recording) -> None:
    assert sorted(recording.channels) == ["itt", "ng"]
    for name, column in (("ng", 1), ("itt", 2)):
        channel = recording.channels[name]
        assert channel.time_s.tolist() == [row[0] for row in ROWS]
        assert channel.values.tolist() == [row[column] for row in ROWS]
        assert channel.unit == {"ng": "%", "itt": "degC"}[name]
    assert recording.duration_s == 1.5
    assert not recording.provenance.questions


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("trailing", ["", "x"])
def test_delimiters_line_ends_and_trailing_delimiters(
    delimiter: str, end: str, trailing: str, write: Write
) -> None:
    _check(read(write(_text(delimiter, end=end, trailing=delimiter if trailing else ""))))


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
def test_decimal_comma(delimiter: str, write: Write) -> None:
    recording = read(write(_text(delimiter, ",")))
    _check(recording)
    assert recording.provenance.decimal == ","


def test_quoted_decimal_comma_within_commas(write: Write) -> None:
    lines = ["time,ng (%),itt (degC)"]
    lines += [",".join(f'"{v}"'.replace(".", ",") for v in row) for row in ROWS]
    _check(read(write("\n".join(lines))))


@pytest.mark.parametrize(
    ("encoding", "told"),
    [("utf-8", "utf-8"), ("utf-8-sig", "utf-8-sig"), ("utf-16", "utf-16"), ("utf-16-le", "utf-16-le"),
     ("utf-16-be", "utf-16-be"), ("latin-1", "cp1252")],
)  # fmt: skip
def test_encodings(encoding: str, told: str, write: Write) -> None:
    text = _text().replace("degC", "°C")
    recording = read(write(text, encoding=encoding))
    _check(recording)
    assert recording.provenance.encoding == told
    assert recording.channels["itt"].column == "ITT (°C)"


def test_utf16_big_endian_with_byte_order_mark(write: Write) -> None:
    _check(read(write(codecs.BOM_UTF16_BE + _text().encode("utf-16-be"))))


def test_preamble_tells_profile_and_identity(write: Write) -> None:
    preamble = (
        "# engine-profile: tarn-tg7\n# aircraft: ZZ-TRN\n# engine-serial: TG7-0042\n# engine-model: TG-7\n"
        "# start: 2031-05-01T09:30:00+02:00\n"
    )
    recording = read(write(preamble + _text()))
    _check(recording)
    assert recording.profile_name == "tarn-tg7"
    identity = recording.identity
    assert (identity.aircraft, identity.aircraft_source) == ("ZZ-TRN", "preamble")
    assert (identity.engine_serial, identity.engine_serial_source) == ("TG7-0042", "preamble")
    assert identity.engine_model == "TG-7"
    assert identity.start is not None
    assert identity.start.isoformat() == "2031-05-01T09:30:00+02:00"
    assert identity.start_source == "preamble"
    assert len(recording.provenance.preamble) == 5


def test_a_file_without_identity_has_none_and_no_date_from_the_file_system(write: Write) -> None:
    identity = read(write(_text())).identity
    assert identity.start is None
    assert identity.start_source is None
    assert identity.aircraft is None
    assert identity.engine_serial is None


@pytest.mark.parametrize(
    "preamble",
    [
        "Recorder X;V2\nSerial;12345\n\n",
        "Flight report of the school\n",
        "sep=;\n",
        "# note\n\n# note 2\n",
        "\n\n",
    ],
)
def test_preamble_lines_of_other_shapes_are_passed_over(preamble: str, write: Write) -> None:
    _check(read(write(preamble + _text(";"))))


def test_a_header_behind_a_comment_mark_is_the_header(write: Write) -> None:
    _check(read(write("# aircraft: ZZ-TRN\n#" + _text())))


def test_a_row_of_units(write: Write) -> None:
    text = "time,Ng,ITT,Oil Temp\ns,%,degF,°C\n0,10,32,20\n1,11,212,21\n"
    recording = read(write(text))
    assert recording.channels["itt"].values.tolist() == [0.0, 100.0]
    assert recording.channels["itt"].column_unit == "degF"
    assert recording.channels["oil_temp"].values.tolist() == [20.0, 21.0]
    assert any("line 2 is a row of units" in d for d in recording.provenance.decisions)


def test_bracketed_units_row(write: Write) -> None:
    recording = read(write("time,Ng,ITT\n[s],[%],[degF]\n0,10,32\n1,11,212\n"))
    assert recording.channels["itt"].values.tolist() == [0.0, 100.0]


@pytest.mark.parametrize(
    ("header", "channel", "raw", "value", "unit"),
    [
        ("ITT (degF)", "itt", 212, 100.0, "degC"),
        ("Oil_T [C]", "oil_temp", 85, 85.0, "degC"),
        ("Oil Press, bar", "oil_press", 1, 14.503773773, "psi"),
        ("P_Oil_kPa", "oil_press", 100, 14.503773773, "psi"),
        ("Fuel Flow (pph)", "fuel_flow", 100, 45.359237, "kg/h"),
        ("IAS {km/h}", "ias", 185.2, 100.0, "kt"),
        ("Altitude (m)", "altitude", 304.8, 1000.0, "ft"),
        ("VS [m/s]", "vs", 5.08, 1000.0, "ft/min"),
        ("OAT (K)", "oat", 288.15, 15.0, "degC"),
        ("Ng (rpm)", "ng", 30000, 30000.0, "rpm"),
        ("Ng (krpm)", "ng", 30, 30000.0, "rpm"),
        ("Np %", "np", 90, 90.0, "%"),
        ("Torque (ft-lbs)", "torque", 1500, 1500.0, "lbf ft"),
        ("Torque Nm", "torque", 1500, 1500.0, "N m"),
        ("Torque (psi)", "torque", 40, 40.0, "psi"),
        ("Bus (V)", "bus_volts", 24, 24.0, "V"),
        ("Battery (A)", "battery_amps", 240, 240.0, "A"),
        ("Battery Current [mA]", "battery_amps", 240, 0.24, "A"),
    ],
)
def test_units_in_headers(
    header: str, channel: str, raw: float, value: float, unit: str, write: Write
) -> None:
    quoted = f'"{header}"'
    recording = read(write(f"time,{quoted}\n0,{raw}\n1,{raw}\n"))
    assert recording.channels[channel].values[0] == pytest.approx(value, rel=1e-9)
    assert recording.channels[channel].unit == unit
    assert recording.channels[channel].map_source == "header"


def test_blank_cells_are_not_samples_and_equal_rows_share_one_time_array(write: Write) -> None:
    text = "time,ng,itt,oil temp,oil press,bus volts\n"
    text += (
        "0,10,20,15,,24\n0.25,11,21,,,24\n0.5,12,22,,,24\n0.75,13,23,,,\n1,14,24,16,30,24\n1.25,15,25,,,24\n"
    )
    channels = read(write(text)).channels
    assert channels["ng"].time_s is channels["itt"].time_s
    assert channels["oil_temp"].time_s.tolist() == [0.0, 1.0]
    assert channels["oil_temp"].values.tolist() == [15.0, 16.0]
    assert channels["oil_press"].time_s.tolist() == [1.0]
    assert channels["bus_volts"].time_s.tolist() == [0.0, 0.25, 0.5, 1.0, 1.25]
    assert not channels["oil_temp"].time_s.flags.writeable


def test_sparse_columns_of_equal_rows_share_one_time_array(write: Write) -> None:
    text = "time,ng,oil temp,oil press\n0,1,15,30\n1,2,,\n2,3,16,31\n"
    channels = read(write(text)).channels
    assert channels["oil_temp"].time_s is channels["oil_press"].time_s


@pytest.mark.parametrize("mark", ["", "---", "N/A", "NaN", "n/a", "--", "null", "-", "#N/A", " "])
def test_missing_marks_are_not_values(mark: str, write: Write) -> None:
    channels = read(write(f"time,ng,itt\n0,10,20\n1,11,{mark}\n2,12,22\n")).channels
    assert channels["itt"].time_s.tolist() == [0.0, 2.0]


@pytest.mark.parametrize("mark", ["inf", "-inf", "Infinity", "1.#INF", "1e999"])
def test_an_infinity_is_no_value_and_is_counted(mark: str, write: Write) -> None:
    recording = read(write(f"time,ng,itt\n0,10,20\n1,11,{mark}\n2,12,22\n"))
    assert recording.channels["itt"].values.tolist() == [20.0, 22.0]
    assert any("1 cell held an infinity" in r for r in recording.provenance.repairs)


@pytest.mark.parametrize(
    ("on", "off"), [("ON", "OFF"), ("true", "false"), ("Yes", "No"), ("ein", "aus"), ("1", "0")]
)
def test_booleans_as_words(on: str, off: str, write: Write) -> None:
    recording = read(write(f"time,starter,ignition\n0,{off},{on}\n1,{on},{on}\n2,{on},{off}\n"))
    assert recording.channels["starter"].values.tolist() == [0.0, 1.0, 1.0]
    assert recording.channels["ignition"].values.tolist() == [1.0, 1.0, 0.0]
    assert recording.channels["starter"].unit == "0/1"


def test_a_channels_own_words_come_first(write: Write) -> None:
    text = "time,condition lever,weight on wheels,external power,bleed\n"
    text += "0,CUTOFF,GND,BATT,OFF\n1,LOW IDLE,AIR,GPU,HIGH\n2,HIGH IDLE,AIR,GPU,NORM\n"
    channels = read(write(text)).channels
    assert channels["fuel_on"].values.tolist() == [0.0, 1.0, 1.0]
    assert channels["weight_on_wheels"].values.tolist() == [1.0, 0.0, 0.0]
    assert channels["external_power"].values.tolist() == [0.0, 1.0, 1.0]
    assert channels["bleed"].values.tolist() == [0.0, 2.0, 1.0]


def test_a_word_in_a_column_of_numbers_is_left_out_and_told(write: Write) -> None:
    recording = read(write("time,ng,itt\n0,10,20\n1,11,FAIL\n2,12,on\n3,13,23\n"))
    assert recording.channels["itt"].values.tolist() == [20.0, 23.0]
    assert any("2 cells held text" in r and "FAIL" in r for r in recording.provenance.repairs)


def test_units_in_cells(write: Write) -> None:
    recording = read(write("time,Ng,ITT\n0,10 %,212 °F\n1,11 %,932 °F\n"))
    assert recording.channels["itt"].values.tolist() == pytest.approx([100.0, 500.0])
    assert recording.channels["ng"].unit == "%"


def test_header_and_cells_that_contradict_each_other_are_asked_for(write: Write) -> None:
    recording = read(write("time,Ng (%),ITT (degC)\n0,10,212 °F\n1,11,932 °F\n"))
    assert "itt" not in recording.channels
    assert any("header says degC, cells say degF" in q for q in recording.provenance.questions)


def test_thousands_are_grouped_where_the_decimal_mark_shows_it(write: Write) -> None:
    text = 'time,ng (rpm),itt\n0,"30,100.5",20.5\n1,"31,200.5",21.5\n'
    assert read(write(text)).channels["ng"].values.tolist() == [30100.5, 31200.5]


def test_three_digits_after_a_comma_are_asked_about(write: Write) -> None:
    recording = read(write("time;ng (rpm);itt\n0;30,100;20\n1;31,200;21\n"))
    assert any("decimal comma" in q for q in recording.provenance.questions)


def test_rows_with_the_wrong_number_of_fields_are_left_out_by_line(write: Write) -> None:
    recording = read(write("time,ng,itt\n0,10,20\n1,11\n2,12,22\n3,13,23,99\n4,14,24\n"))
    assert recording.channels["ng"].time_s.tolist() == [0.0, 2.0, 4.0]
    assert any(
        "2 lines have the wrong number of fields" in r and "3, 5" in r for r in recording.provenance.repairs
    )
    assert recording.provenance.rows == 3


def test_a_last_line_cut_short_is_left_out_and_told(write: Write) -> None:
    recording = read(write("time,ng,itt\n0,10,20\n1,11,21\n2,1"))
    assert recording.channels["ng"].time_s.tolist() == [0.0, 1.0]
    assert any("last line is cut short" in r for r in recording.provenance.repairs)


def test_a_last_line_cut_within_quotes_is_left_out(write: Write) -> None:
    recording = read(write('time,ng,note,itt\n0,10,"a",20\n1,11,"b",21\n2,12,"c'))
    assert recording.channels["ng"].time_s.tolist() == [0.0, 1.0]
    assert any("last line is cut short" in r for r in recording.provenance.repairs)


def test_a_header_repeated_in_the_data_is_left_out(write: Write) -> None:
    text = "time,ng,itt\n0,10,20\n1,11,21\ntime,ng,itt\n2,12,22\n"
    recording = read(write(text))
    assert recording.channels["ng"].values.tolist() == [10.0, 11.0, 12.0]
    assert any("repeated 1 times" in r for r in recording.provenance.repairs)


def test_comment_lines_in_the_data_are_left_out_and_counted(write: Write) -> None:
    recording = read(write("time,ng,itt\n0,10,20\n# pause\n1,11,21\n"))
    assert recording.channels["ng"].values.tolist() == [10.0, 11.0]
    assert any("1 comment lines" in r for r in recording.provenance.repairs)


def test_quoted_fields_with_delimiters_quotes_and_line_breaks(write: Write) -> None:
    text = 'time,note,"ng","itt"\r\n"0","a,b","10","20"\r\n1,"say ""hi""\r\nagain",11,21\r\n2,,12,22\r\n'
    recording = read(write(text))
    assert recording.channels["ng"].values.tolist() == [10.0, 11.0, 12.0]
    assert not recording.provenance.repairs


def test_two_header_rows_with_group_names(write: Write) -> None:
    text = "Time,Engine 1,,Engine 2,\n,ITT (degC),Ng (%),ITT (degC),Ng (%)\n0,20,10,30,40\n1,21,11,31,41\n"
    channels = read(write(text)).channels
    assert channels["itt"].values.tolist() == [20.0, 21.0]
    assert channels["itt.2"].values.tolist() == [30.0, 31.0]
    assert channels["ng.2"].values.tolist() == [40.0, 41.0]


def test_no_header_gives_columns_by_position(write: Write) -> None:
    recording = read(write("0.0,10,20\n0.1,11,21\n0.2,12,22\n"), maps=["time=#1", "ng=#2:%", "itt=#3:degC"])
    assert recording.channels["ng"].values.tolist() == [10.0, 11.0, 12.0]
    assert recording.provenance.header_rows == ()


def test_an_index_column_without_name_is_no_time_and_no_channel(write: Write) -> None:
    text = ",Ng,ITT\n" + "".join(f"{i},{10 + i},{20 + i}\n" for i in range(5))
    recording = read(write(text), rate_hz=4.0)
    assert recording.channels["ng"].time_s.tolist() == [0.0, 0.25, 0.5, 0.75, 1.0]
    assert not recording.unmapped


def test_a_gzip_and_a_zip_read_like_the_plain_file(write: Write, tmp_path: Path) -> None:
    _check(read(write(gzip.compress(_text().encode()), "flight.csv.gz")))
    packed = tmp_path / "flight.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inner/flight.csv", _text())
    recording = read(packed)
    _check(recording)
    assert recording.provenance.sha256 == hashlib.sha256(packed.read_bytes()).hexdigest()


def test_provenance_is_complete(write: Write) -> None:
    path = write(_text(";", ","))
    provenance = read(path).provenance
    assert provenance.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert provenance.byte_count == path.stat().st_size
    assert provenance.path == str(path)
    assert provenance.file_name == "flight.csv"
    assert provenance.rows == 4
    assert provenance.delimiter == ";"
    assert provenance.header_rows == ("Time (s);Ng (%);ITT (degC)",)
    assert len(provenance.header_signature) == 64
    assert provenance.decisions


def test_the_header_signature_is_of_the_header_and_not_of_the_data(write: Write) -> None:
    one = read(write("time,ng,itt\n0,10,20\n1,11,21\n", "a.csv")).provenance.header_signature
    two = read(write("time,ng,itt\n0,50,600\n1,51,610\n2,52,620\n", "b.csv")).provenance.header_signature
    three = read(write("time,itt,ng\n0,10,20\n1,11,21\n", "c.csv")).provenance.header_signature
    assert one == two != three


def test_the_file_is_not_changed(write: Write) -> None:
    path = write(_text())
    before = (path.read_bytes(), path.stat().st_mtime_ns)
    path.chmod(0o444)
    read(path)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


def test_steps_yield_rising_progress_and_return_the_recording(write: Write) -> None:
    steps = read_steps(write(_text()))
    seen = []
    try:
        while True:
            seen.append(next(steps))
    except StopIteration as stop:
        _check(stop.value)
    assert seen == sorted(seen)
    assert seen[0] == 0.0
    assert seen[-1] == 1.0


def test_steps_can_be_given_up(write: Write) -> None:
    steps = read_steps(write(_text()))
    next(steps)
    steps.close()
    with pytest.raises(StopIteration):
        next(steps)


def test_there_is_a_proposal_per_column_also_without_a_time(write: Write) -> None:
    file = write("ITT (degF),Ng,Fred\n100,10,1\n110,11,2\n")
    with pytest.raises(UserError, match="no time column"):
        read(file)
    table = done(table_steps(file))
    proposals = done(match_table(table.dialect, table.table, {}, {})).proposals
    assert [(p.channel, p.unit.name if p.unit else None) for p in proposals] == [
        ("itt", "degF"),
        ("ng", "%"),
        (None, None),
    ]
    assert proposals[0].confidence > 0.9
    assert np.isclose(proposals[2].confidence, 0.0)


def test_a_line_that_is_not_utf8_further_down_is_read_and_told(write: Write) -> None:
    good = "".join(f"{i},{10 + i % 9},{20 + i % 9} °C\n" for i in range(40))
    text = ("time,ng,itt\n" + good).encode() + "40,12,30 °C\n41,12,31 °C\n".encode("latin-1")
    recording = read(write(text))
    assert recording.channels["itt"].values[-2:].tolist() == [30.0, 31.0]
    assert recording.channels["itt"].time_s.size == 42


@pytest.mark.parametrize("value", ["-999", "-999.0", "9999"])
def test_a_declared_missing_value_is_missing_and_counted(value: str, write: Write) -> None:
    recording = read(write(f"# missing-value: {value}\ntime,ng,itt\n0,10,20\n1,{value},21\n2,12,{value}\n"))
    assert recording.channels["ng"].values.tolist() == [10.0, 12.0]
    assert recording.channels["itt"].values.tolist() == [20.0, 21.0]
    assert any('"Ng"' in r or '"ng"' in r for r in recording.provenance.repairs)
    assert any("1 cell held the declared missing value" in r for r in recording.provenance.repairs)


def test_an_undeclared_sentinel_stays_a_value(write: Write) -> None:
    recording = read(write("time,ng,itt\n0,10,20\n1,-999,21\n2,12,-999\n"))
    assert recording.channels["ng"].values.tolist() == [10.0, -999.0, 12.0]
    assert {flag.channel for flag in recording.quality if flag.kind == "out_of_range"} == {"ng", "itt"}


def test_a_value_that_no_channel_can_hold_is_left_out_by_line(write: Write) -> None:
    recording = read(write("time,ng (%),itt\n0,10,20\n1,11,1.5e30\n2,12,22\n"))
    assert recording.channels["itt"].values.tolist() == [20.0, 22.0]
    assert any(
        "1 value that no channel can hold" in r and r.endswith("line 3") for r in recording.provenance.repairs
    )


@pytest.mark.parametrize(
    "title", ["Bench log;;;;;", "Bench log;;;;;\nAircraft;ZZ-TRN;;;;\nDate;2031-04-05;;;;"]
)
def test_a_title_that_a_spreadsheet_filled_up_with_delimiters_hides_no_header(
    title: str, write: Write
) -> None:
    rows = "\n".join(f"{i};{10 + i};{20 + i};1;;" for i in range(40))
    recording = read(write(f"{title}\nTime (s);Ng (%);ITT (degC);Starter;Note;Spare\n{rows}\n"))
    assert recording.channels["ng"].values.tolist() == [10.0 + i for i in range(40)]
    assert recording.provenance.header_rows == ("Time (s);Ng (%);ITT (degC);Starter;Note;Spare",)
    assert recording.identity.aircraft == ("ZZ-TRN" if "Aircraft" in title else None)
