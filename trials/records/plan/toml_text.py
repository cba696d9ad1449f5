"""Text as TOML writes it between quotes, whatever is in it."""

from __future__ import annotations


def quoted(text: str) -> str:
    """The text as a basic string; what cannot be seen is written by its number.

    So it survives a terminal too. Halves of characters, which TOML cannot hold, become a
    replacement sign.
    """
    return '"' + "".join(map(_written, text)) + '"'


def _written(character: str) -> str:
    code = ord(character)
    if character in '"\\':
        return f"\\{character}"
    if 0xD800 <= code <= 0xDFFF:
        return "\ufffd"
    if character.isprintable():
        return character
    return f"\\u{code:04x}" if code < 0x1_0000 else f"\\U{code:08x}"
