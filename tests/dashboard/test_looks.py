"""The pages follow the device: every colour of a style has its shade in dark."""

from __future__ import annotations

import re

from dashboard.access import front_page
from dashboard.serve import SETTINGS
from dashboard.theme.looks import STYLE, by_device
from trials.drawing.inks import LIGHT, Ink, contrast

HEX = re.compile(r"#[0-9A-Fa-f]{6}")


def test_every_colour_of_a_style_is_named_by_what_it_means() -> None:
    assert by_device(f"a {{ color: {LIGHT[Ink.LEAF]} }}") == "a { color: var(--leaf) }"
    for style in (STYLE, front_page.STYLE):
        rules = re.sub(r":root\{[^}]*\}", "", style)
        assert HEX.findall(rules) == []
        used = set(re.findall(r"var\(--([\w-]+)\)", rules))
        assert used <= {ink.value for ink in Ink}
        assert "prefers-color-scheme:dark" in style


def test_the_device_chooses_between_both_and_fields_can_be_seen() -> None:
    assert "theme.base" not in SETTINGS
    for kind in ("light", "dark"):
        ground = str(SETTINGS[f"theme.{kind}.backgroundColor"])
        field = str(SETTINGS[f"theme.{kind}.secondaryBackgroundColor"])
        outline = str(SETTINGS[f"theme.{kind}.borderColor"])
        assert contrast(outline, ground) >= 3
        assert contrast(str(SETTINGS[f"theme.{kind}.textColor"]), field) >= 4.5
