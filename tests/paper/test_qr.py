from __future__ import annotations

import numpy as np
import pytest
import zxingcpp

from trials.errors import PrintRefused
from trials.paper.qr import QUIET_MODULES, modules, smallest_side_mm, tally_link

BASE = "https://tally.riverbend.example/plot/"


@pytest.mark.parametrize("code", ["Z101", "A 1/2", "Beet-Ö7", "x" * 60])
def test_a_code_is_read_back_as_its_link(code: str) -> None:
    link = tally_link(BASE, code)
    dark = np.kron(np.pad(np.array(modules(link)), QUIET_MODULES), np.ones((4, 4), dtype=bool))
    (found,) = zxingcpp.read_barcodes(np.where(dark, 0, 255).astype(np.uint8))
    assert found.text == link


def test_a_plot_code_is_written_as_an_address_takes_it() -> None:
    assert tally_link(BASE, "A 1/2") == BASE + "A%201%2F2"


def test_a_longer_link_needs_a_larger_label() -> None:
    # Version 1 has 21 modules a side (ISO/IEC 18004, 5.3.1.1) and a border of 4 modules.
    assert smallest_side_mm("1") == pytest.approx((21 + 8) * 0.33)
    assert smallest_side_mm(BASE + "x" * 100) > smallest_side_mm(BASE)


def test_a_link_that_no_code_holds_is_refused() -> None:
    # Version 40 with correction of level M holds 2331 bytes (ISO/IEC 18004, table 7).
    assert modules("x" * 2331)
    with pytest.raises(PrintRefused, match="2,332 characters does not fit into a QR code"):
        modules("x" * 2332)
