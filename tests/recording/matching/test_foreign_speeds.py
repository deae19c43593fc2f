"""A column that says "speed" in another language is asked about: which speed is it; a set point or an idle column is not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.recording.reader import read
from debrief.session.importing.file_proposal import propose_steps
from debrief.steps import done
from debrief.words.asked import Asked

Write = Callable[..., Path]
RISING = [1.5 * i for i in range(40)]


def made(write: Write, speed: str, values: list[float] = RISING, more: str = "") -> Path:
    heads = ["Zeit", speed, "Abgastemperatur [°C]", *filter(None, [more])]
    rows = [
        [str(i), f"{value:.1f}", str(20 + 15 * i), *(["50"] if more else [])]
        for i, value in enumerate(values)
    ]
    return write("\n".join(";".join(row).replace(".", ",") for row in [heads, *rows]) + "\n")


def asked(path: Path) -> list[str]:
    return [q.doubt.channel for q in read(path).provenance.questions if isinstance(q, Asked)]


@pytest.mark.parametrize(
    "speed",
    ["Drehzahl Ist [%]", "Drehzahl [%]", "Istdrehzahl [%]", "Motordrehzahl Ist (%)", "Wellendrehzahl [%]",
     "Régime [%]", "Régime moteur (%)", "Vitesse de rotation (%)", "Régimen motor [%]", "Revoluciones (%)", "Giri motore [%]",
     "Numero di giri [%]", "RPM [%]"],
)  # fmt: skip
def test_a_speed_in_another_language_is_asked_for(speed: str, write: Write) -> None:
    path = made(write, speed)
    assert asked(path) == ["ng"]
    (question,) = [q for q in done(propose_steps(path)).questions if q.channel == "ng"]
    assert question.text == f'Is "{speed}" the gas generator speed? Its name alone does not tell.'
    assert question.matters  # it is asked before anything is shown
    assert [answer.column for answer in question.answers] == [1]


@pytest.mark.parametrize(
    "speed", ["Drehzahl Soll [%]", "Drehzahl Sollwert [%]", "Régime consigne [%]", "Drehzahl max [%]"]
)
def test_a_wanted_speed_is_not_asked_for(speed: str, write: Write) -> None:
    assert asked(made(write, speed)) == []


def test_nor_one_that_never_moves_or_is_in_a_unit_of_another_kind(write: Write) -> None:
    assert asked(made(write, "Drehzahl Ist [%]", [0.0] * 40)) == []
    assert asked(made(write, "Velocidad [kt]")) == []


def test_beside_a_named_gas_generator_the_other_speed_is_asked_for(write: Write) -> None:
    assert asked(made(write, "Drehzahl Ist [U/min]", [30 * v for v in RISING], "Ng [%]")) == ["np"]
