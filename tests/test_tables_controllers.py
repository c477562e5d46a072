"""Controllers and cables: every row has a document, and what it says is what the document says."""

from __future__ import annotations

import pytest

from imagekeeper.tables import sources
from imagekeeper.tables.controllers import CONNECTORS, StepRates, cable_rows, controller_rows
from imagekeeper.tables.drives import drive_rows, pin_rows, rule_rows

ROWS = [*controller_rows().values(), *cable_rows().values()]


@pytest.mark.parametrize("row", ROWS, ids=[row.id for row in ROWS])
def test_no_row_without_a_document(row: object) -> None:
    cited = getattr(row, "sources", ())
    assert cited
    assert all(one.id in sources() and one.gives for one in cited)


@pytest.mark.parametrize("row", controller_rows().values(), ids=list(controller_rows()))
def test_a_controller_is_sane(row: object) -> None:
    rates = {*row.data_rates, *row.some_data_rates}   # type: ignore[attr-defined]
    assert rates
    assert rates <= {mode.data_rate for drive in drive_rows().values() for mode in drive.modes}
    assert not set(row.data_rates) & set(row.some_data_rates)   # type: ignore[attr-defined]
    assert not set(row.encodings) & set(row.some_encodings)   # type: ignore[attr-defined]
    assert {*row.encodings, *row.some_encodings} <= {"fm", "mfm", "perpendicular"}   # type: ignore[attr-defined]
    assert set(row.connectors) <= set(CONNECTORS)   # type: ignore[attr-defined]
    for steps in row.steps:   # type: ignore[attr-defined]
        assert list(steps.ms) == sorted(steps.ms)
        assert steps.every is None or len(steps.ms) == 2


@pytest.mark.parametrize(("name", "rates"), [
    ("82077aa", {250, 300, 500, 1000}),   # Intel, 82077AA data sheet 290166-007, front page; the -5 has no 1000
    ("pc8477b", {250, 300, 500, 1000}),   # National Semiconductor, PC8477B data sheet TL/F/11332, front page
    ("fdc37", {250, 300, 500, 1000}),     # Standard Microsystems, FDC37C78 data sheet, front page
    ("it8673f", {250, 300, 500, 1000}),   # ITE, IT8673F data sheet, page 82
    ("wd1770", {250}),                    # Western Digital, WD1770/1772 data sheet: 125 FM, 250 MFM at 8 MHz
    ("fd179x", {250, 500}),               # Western Digital, FD179X-02 data sheet: a clock of 1 or 2 MHz
    ("wd279x", {250, 500}),               # Texas Instruments, TMS279X data sheet: read pulses at 250 and 500 kbit/s
])  # fmt: skip
def test_the_rates_are_those_of_the_data_sheets(name: str, rates: set[int]) -> None:
    row = controller_rows()[name]
    assert {rate // 1000 for rate in (*row.data_rates, *row.some_data_rates)} == rates


@pytest.mark.parametrize(("name", "rate", "ms"), [
    ("fd179x", 500_000, (3, 6, 10, 15)),     # Western Digital, FD179X-02 data sheet, at 2 MHz
    ("fd179x", 250_000, (6, 12, 20, 30)),    # the same at 1 MHz
    ("wd1772", 250_000, (2, 3, 5, 6)),       # Western Digital, WD1770/1772 data sheet
    ("82077aa", 1_000_000, (0.5, 8)),        # Intel, 82077AA data sheet: 0.5 to 8 ms at 1 Mbit/s
    ("it8673f", 250_000, (2, 32)),           # ITE, IT8673F data sheet, page 82: 8, 16, 26.7, 32 at 1000 to 250 kbit/s
    ("it8673f", 500_000, (1, 16)),
])  # fmt: skip
def test_the_step_rates_are_those_of_the_data_sheets(name: str, rate: int, ms: tuple[float, ...]) -> None:
    found = controller_rows()[name].steps_at(rate)
    assert found is not None
    assert found.ms == ms


def test_at_300_kbit_s_all_times_are_five_thirds_of_those_at_500() -> None:
    """ITE, IT8673F data sheet, page 82: the slowest step at 300 kbit/s is 26.7 ms."""
    found = controller_rows()["it8673f"].steps_at(300_000)
    assert found is not None
    assert found.ms[-1] == pytest.approx(26.7, abs=0.05)
    assert controller_rows()["wd1770"].steps_at(300_000) is None


def test_a_step_is_never_faster_than_the_drive() -> None:
    for row in controller_rows().values():
        for steps in row.steps:
            for drive_ms in (1, 2.5, 3, 6, 8, 15, 40):
                safe = steps.safe(drive_ms)
                assert safe is None or safe >= drive_ms
                assert safe is not None or steps.ms[-1] < drive_ms + (steps.every or 0)
    assert StepRates(data_rate=250_000, ms=(2, 32), every=2).safe(32) == 32


def test_fm_is_as_published_data_sheets_have_it() -> None:
    """Intel, 8271 data sheet AFN-00223B: FM alone. ITE, IT8673F data sheet: perpendicular mode."""
    assert controller_rows()["i8271"].encodings == ("fm",)
    assert not controller_rows()["i8271"].some_encodings
    assert "perpendicular" in controller_rows()["it8673f"].encodings
    assert "fm" not in {*controller_rows()["pc-adapter"].encodings, *controller_rows()["pc-adapter"].some_encodings}


def test_lines_that_carry_a_supply_are_cut_in_one_cable() -> None:
    """Hewlett-Packard, 9122C CE Service Handbook, table 9-2: +5 V on 3 to 11, +12 V on 29, 31, 33.

    Acorn, A3000 Service Manual, page 19: 5, 7, 9 and 11 optionally +5 V.
    """
    cut = set(cable_rows()["34-cut-odd"].open_lines)
    assert cut == {3, 5, 7, 9, 11, 29, 31, 33}
    assert cut >= {5, 7, 9, 11}
    assert not cut & {row.pin for row in pin_rows().values()}   # no signal is cut


def test_the_twist_exchanges_lines_10_to_16() -> None:
    """A pin table of the 34-line interface, PC and older use: seven conductors are turned between the connectors."""
    assert cable_rows()["34-twisted"].twist
    assert "10 to 16" in rule_rows()["drive-select"].says
    assert not any(row.twist for row in cable_rows().values() if row.id != "34-twisted")


def test_cables_are_no_longer_than_makers_allow() -> None:
    """TEAC, FD-55GFR specification: at most 3 m with 330 ohm, 1.5 m with 1 kohm. Shugart, SA800 OEM manual: 10 feet."""
    assert max(row.longest_m for row in cable_rows().values()) <= min(3.0, 10 * 0.3048)


def test_the_level_of_line_2_is_the_makers_as_shipped() -> None:
    """TEAC, FD-55GFR specification, strap LG: off as shipped and for AT machines, high or open is high density."""
    assert "for PCs high or open" in rule_rows()["density-line"].says
    assert "teac-fd55gfr" in {one.id for one in rule_rows()["density-line"].sources}
    # Winbond, W83757F data sheet, as quoted in a newsgroup
    assert controller_rows()["w83757f"].line_2 == "low at 250 kbit/s, high at 500"
