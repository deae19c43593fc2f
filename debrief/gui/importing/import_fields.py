"""What is said of the whole file in the import dialog: rate, profile, aircraft, engine, beginning, altimeter."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QSignalBlocker, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import made_button, restyle
from debrief.session.importing.import_form import ImportForm


class FileFields(QWidget):
    """The fields in one row; what is typed goes into the form at once.

    Attributes
    ----------
    rate, aircraft, engine_serial, start, altimeter : QLineEdit
        The rate is hidden where the file has times.
    serials : dict of int to QLineEdit
        Of the engines from the second on that columns are of.
    profile : ChoiceBox

    Signals
    -------
    typed
        A field was changed.
    new_profile_wanted
        A profile is to be made.
    """

    typed = Signal()
    new_profile_wanted = Signal()

    def __init__(self, form: ImportForm, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._form = form
        proposal = form.proposal
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(3)
        self.rate = QLineEdit(form.rate_text, self, placeholderText="such as 10")
        self.rate.textChanged.connect(self._typed)
        self.profile = ChoiceBox(theme)
        self._fill_profiles()
        self.profile.currentIndexChanged.connect(self._profile_chosen)
        known = proposal.identity
        told = known.start.isoformat(timespec="seconds") if known.start is not None else ""
        self.aircraft = _line(form.aircraft, known.aircraft, "not known")
        self.engine_serial = _line(form.engine_serial, known.engine_serial, "not known")
        self.serials = {
            n: _line(form.engine_serials.get(n, ""), known.serial_of(n), "not known")
            for n in form.further_engines
        }
        self.start = _line(form.start_text, told, "such as 2024-05-01T09:30:00+02:00")
        hpa = known.altimeter_setting_hpa
        setting = None if hpa is None else f"{hpa:.6g} hPa"
        self.altimeter = _line(form.altimeter, setting, "such as 1013")
        parts: list[tuple[str, QWidget, int]] = []
        if proposal.needs_rate:
            parts.append(("Samples &per second", self.rate, 2))
        else:
            self.rate.hide()
        parts += [
            ("Engine pro&file", self.profile, 3),
            ("", made_button("New...", self.new_profile_wanted, name="New engine profile"), 0),
            ("&Aircraft", self.aircraft, 2),
            ("&Engine serial" if not self.serials else "&Engine 1, serial", self.engine_serial, 2),
            *((f"Engine {n}, serial", line, 2) for n, line in self.serials.items()),
            ("&Start of the recording", self.start, 4),
            ("Al&timeter setting", self.altimeter, 2),
        ]
        for place, (words, widget, stretch) in enumerate(parts):
            if words:
                label = PlainLabel(words, role="small")
                label.setBuddy(widget)
                widget.setAccessibleName(words.replace("&", ""))
                grid.addWidget(label, 0, place)
            grid.addWidget(widget, 1, place)
            grid.setColumnStretch(place, stretch)
            if isinstance(widget, QLineEdit) and widget is not self.rate:
                widget.textChanged.connect(self._typed)

    def _fill_profiles(self) -> None:
        proposal = self._form.proposal
        names = dict(proposal.profiles)
        if proposal.profile_name:
            self.profile.addItem(
                entry(f"As the file says: {names.get(proposal.profile_name, proposal.profile_name)}"), None
            )
        else:
            self.profile.addItem("None: nothing is judged", None)
        for stem, name in proposal.profiles:
            self.profile.addItem(entry(name), stem)
        chosen = self._form.profile
        if chosen is not None and self.profile.findData(chosen) < 0:
            self.profile.addItem(entry(chosen), chosen)
        self.profile.setCurrentIndex(max(0, self.profile.findData(chosen)) if chosen is not None else 0)
        self.profile.may_shrink(18)

    def take_profile(self, path: str) -> None:
        """Offer a profile that was made meanwhile, and choose it."""
        self.profile.addItem(entry(Path(path).stem), path)
        self.profile.setCurrentIndex(self.profile.count() - 1)

    def show_form(self) -> None:
        """Show what the form holds, where something else than a field has changed it."""
        form = self._form
        lines = [(self.aircraft, form.aircraft), (self.engine_serial, form.engine_serial)]
        lines += [
            (self.rate, form.rate_text),
            (self.start, form.start_text),
            (self.altimeter, form.altimeter),
        ]
        lines += [(line, form.engine_serials.get(n, "")) for n, line in self.serials.items()]
        for line, text in lines:
            if line.text() != text:
                with QSignalBlocker(line):
                    line.setText(text)
        place = 0 if form.profile is None else self.profile.findData(form.profile)
        if place >= 0 and place != self.profile.currentIndex():
            with QSignalBlocker(self.profile):
                self.profile.setCurrentIndex(place)

    def show_wanted(self) -> None:
        """Show whether a rate is wanted still."""
        if not self._form.proposal.needs_rate:
            return
        self.rate.setEnabled(self._form.needs_rate)
        wanted = self._form.needs_rate and self._form.rate_hz is None
        if self.rate.property("wanted") != wanted:
            restyle(self.rate, "wanted", wanted)

    @Slot()
    def _typed(self) -> None:
        self._form.rate_text = self.rate.text()
        self._form.aircraft = self.aircraft.text()
        self._form.engine_serial = self.engine_serial.text()
        typed = {n: line.text() for n, line in self.serials.items()}
        self._form.engine_serials = {**self._form.engine_serials, **typed}
        self._form.start_text = self.start.text()
        self._form.altimeter = self.altimeter.text()
        self.typed.emit()

    @Slot()
    def _profile_chosen(self) -> None:
        self._form.profile = self.profile.currentData()
        self.typed.emit()


def _line(text: str, known: str | None, without: str) -> QLineEdit:
    line = QLineEdit(text, placeholderText=f"{entry(known)} (from the file)" if known else without)
    line.setToolTip(plain_tip(line.placeholderText()))
    return line
