"""A start in words: only what was measured, beside what the profile asks, with no advice of its own."""

from __future__ import annotations

from dataclasses import dataclass, replace

from debrief.analysis.model import Measure
from debrief.report.blocks import Block, Paragraph, Table
from debrief.report.content.plain_words import moments_blocks, plain_words_blocks
from debrief.report.content.reference_start import references_for
from tests.report.content.test_reference import Band
from tests.report.made_assessments import hot_start


def sentences(blocks: list[Block]) -> str:
    return " ".join(block.text for block in blocks if isinstance(block, Paragraph))


def test_early_fuel_is_told_with_how_early() -> None:
    made = hot_start()
    text = sentences(plain_words_blocks(made, made.starts[0]))
    assert "Fuel came in at 10.1 % Ng, 4.9 % Ng below the minimum of 15 %." in text
    assert "Ng was still rising when fuel came in" in text


def test_with_a_reference_the_difference_comes_first_then_a_table_and_nothing_is_said_in_both() -> None:
    made = hot_start(starts=2)
    start = made.starts[0]
    blocks = plain_words_blocks(made, start, references_for(made, start, (), None))
    first, table = blocks[1:3]
    assert isinstance(first, Paragraph)
    assert first.text.startswith("Compared with the reference start, fuel came ")
    assert "8.3 %" in first.text
    assert isinstance(table, Table)
    assert [column.title for column in table.columns] == ["", "yours", "reference", "limit"]
    assert ("Ng at fuel", "10.1 %", "18.4 %", "at least 15 %, advised 18 %") in rows(blocks)
    text = sentences(blocks)
    assert "Fuel came in at" not in text
    assert "Ng was still rising when fuel came in" in text  # no column holds it


def test_what_one_of_the_two_lacks_is_said_of_the_other_and_never_as_zero() -> None:
    made = hot_start(starts=2)
    lit = made.starts[1]
    own = replace(made.starts[0], light_off_s=None, peak_itt_c=None, measures={})
    other = replace(lit, measures={"fuel_to_light_off": Measure(0.8, "s", 0.7, 0.9)})
    made = replace(made, starts=(own, other), events=())
    blocks = plain_words_blocks(made, own, references_for(made, own, (), None))
    assert ("Fuel to light-off", "—", "0.8 s", "at most 10 s") in rows(blocks)
    assert "No light-off was seen." in sentences(blocks)
    assert "peak ITT" not in sentences(blocks)


def test_fuel_between_minimum_and_advice_is_told_as_that() -> None:
    made = hot_start()
    start = replace(made.starts[0], ng_at_fuel_pct=16.0)
    text = sentences(plain_words_blocks(made, start))
    assert "16.0 % Ng, above the minimum of 15 % and below the advised 18 %." in text


def test_a_value_just_below_the_minimum_does_not_read_like_it() -> None:
    made = hot_start()
    text = sentences(plain_words_blocks(made, replace(made.starts[0], ng_at_fuel_pct=14.97)))
    assert "Fuel came in at 14.97 % Ng, just below the minimum of 15 %." in text


def test_without_a_profile_nothing_is_held_against_anything() -> None:
    made = hot_start(with_profile=False)
    text = sentences(plain_words_blocks(made, made.starts[0]))
    assert "Fuel came in at 10.1 % Ng." in text
    assert not [word for word in ("minimum", "limit", "profile") if word in text]


def test_reaction_times_are_told_for_each_level_in_order() -> None:
    made = hot_start()
    measures = {
        "cut_after_1030": Measure(1.3, "s", 1.2, 1.3),
        "cut_after_830": Measure(2.5, "s", 2.4, 2.5),
        "motored_after_cut": Measure(23.5, "s", 23.4, 23.6),
    }
    text = sentences(plain_words_blocks(made, replace(made.starts[0], measures=measures)))
    first = text.index("Fuel was cut 2.5 s after ITT passed 830 °C.")
    assert first < text.index("Fuel was cut 1.3 s after ITT passed 1030 °C.")
    made = replace(made, starts=(replace(made.starts[0], measures=measures),))
    assert "the engine was motored for 23.5 s." in text


def test_no_sentence_tells_what_to_do_next() -> None:
    made = hot_start(starts=2)
    text = sentences(
        plain_words_blocks(made, made.starts[0], references_for(made, made.starts[0], (), None))
    ).lower()
    for word in ("you should", "try again", "next time", "safe", "well done", "good"):
        assert word not in text


def rows(blocks: list[Block]) -> list[tuple[str, ...]]:
    table = next(block for block in blocks if isinstance(block, Table))
    return [row.cells for row in table.rows]


def test_moments_are_in_order_with_the_values_of_that_moment() -> None:
    made = hot_start()
    start = made.starts[0]
    found = rows(moments_blocks(made, start, made.events))
    words = [cells[2] for cells in found]
    assert words == [
        "Starter on, from the battery",
        "Fuel on",
        "Light-off",
        "ITT above 830 °C",
        "ITT above 920 °C",
        "ITT above 1030 °C",
        "Peak ITT",
        "Fuel cut-off",
        "Starter off, after 55.0 s",
    ]
    fuel, peak = found[1], found[6]
    assert fuel[0] == "0:18.0"
    assert fuel[1] == "+6.0 s"
    assert fuel[3] == "10.1 %"
    assert peak[4] == "1097 °C"


def test_a_channel_that_is_missing_is_a_dash() -> None:
    made = hot_start()
    channels = {name: made.recording.channels[name] for name in ("itt", "ng")}
    made = replace(made, recording=made.recording.with_channels(channels))
    assert all(cells[5] == "—" for cells in rows(moments_blocks(made, made.starts[0], made.events)))


@dataclass(frozen=True)
class Compared:
    engine: int
    start_number: int
    outside: bool | None
    said: str
    measure: str = "peak_itt"
    unit: str = "degC"
    band: Band = Band()  # noqa: RUF009 (frozen)


def test_comparison_with_the_own_history_is_printed_with_its_caution() -> None:
    from debrief.report.content.start_pages import start_section

    made = hot_start(starts=2)
    usual = (
        Compared(1, 1, False, "Light-off to idle is as usual."),
        Compared(1, 1, True, "Peak ITT is far above the usual."),
        Compared(1, 2, False, "This is about another start."),
    )
    text = sentences(list(start_section(made, made.starts[0], "technician", usual).blocks))
    assert text.index("far above the usual") < text.index("as usual")
    assert "The normal range is not a limit." in text
    assert "another start" not in text
    assert "Usual is not" not in sentences(list(start_section(made, made.starts[0], "technician").blocks))
