"""Names from the records as plain text, whatever they hold, wherever they are shown.

Streamlit reads labels, captions, messages and cells as Markdown with its own additions (colours,
icons, emoji, mathematics, arrows), and fetches images named there. What is typed into a record
must never be read so. ``for_markdown`` is for such places, ``for_html`` for our own HTML. The
boxes of ``st.selectbox`` and ``st.multiselect`` show their options as they are and need neither.
"""

from __future__ import annotations

import html
import re

# Between these two characters nothing is seen and no line breaks, but no pattern matches either.
JOINER = "\u2060"

_PUNCTUATION = re.compile(r"([!-/:-@\[-`{-~])")
_LINE_BREAKS = re.compile(r"\s+")
# Replaced by Streamlit after the Markdown is read, so that a backslash does not protect them.
_READ_LATER = re.compile(
    r"(?<=:)(?=[\w/])"  # :emoji:, :red[..], :material/..:, http://
    r"|(?<=[-<>=~])(?=[-<>=~])"  # arrows and dashes
    r"|(?<=www)(?=\.)"
    r"|(?<=\w)(?=@)",
    re.IGNORECASE,
)
_SIGHTLESS = {ord(c): None for c in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"}


def for_markdown(text: str) -> str:
    """The text so that Markdown shows it as it stands, on one line."""
    joined = _READ_LATER.sub(JOINER, _one_line(text))
    return _PUNCTUATION.sub(r"\\\1", joined)


def for_html(text: str) -> str:
    """The text so that HTML shows it as it stands, also within a quoted attribute."""
    return html.escape(_one_line(text), quote=True)


def _one_line(text: str) -> str:
    """Without line breaks, and without characters that turn the reading direction."""
    return _LINE_BREAKS.sub(" ", text.translate(_SIGHTLESS)).strip()
