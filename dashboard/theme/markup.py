"""Our own HTML for what words and tables say: every piece of text passes the escaping helper."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence

from dashboard.theme.text import for_html
from trials.drawing.picture import Picture
from trials.drawing.svg import svg_of_device
from trials.report.grid import Table


def heading(title: str, *, eyebrow: str = "", facts: Iterable[str] = ()) -> str:
    """The head of a page: where we are, its question, and its facts on one line."""
    above = f'<p class="tb-eyebrow">{for_html(eyebrow)}</p>' if eyebrow else ""
    line = " · ".join(for_html(fact) for fact in facts if fact)
    below = f'<p class="tb-facts">{line}</p>' if line else ""
    return f'{above}<h1 class="tb-title">{for_html(title)}</h1>{below}'


def section(title: str, note: str = "") -> str:
    """The head of a section."""
    return f'<h2 class="tb-h2">{for_html(title)}</h2>{_note(note)}'


def caption(title: str, note: str = "") -> str:
    """The head of a picture or a table."""
    return f'<h3 class="tb-h3">{for_html(title)}</h3>{_note(note)}'


def answer(sentence: str, but: Iterable[str] = ()) -> str:
    """What a page comes to in one sentence, and what it must not be read without."""
    more = "".join(f'<p class="tb-but">{for_html(text)}</p>' for text in but)
    return f'<h2 class="tb-answer">{for_html(sentence)}</h2>{more}'


def picture(wide: Picture, narrow: Picture) -> str:
    """A picture, drawn for a wide place and for a phone, light or dark as the device is set."""
    return "".join(
        # With its size nothing below moves while it comes in.
        f'<img class="tb-picture {kind}" alt="{for_html(drawn.alt)}" '
        f'width="{drawn.width:.0f}" height="{drawn.height:.0f}" '
        f'src="data:image/svg+xml;base64,{b64encode(svg_of_device(drawn).encode()).decode()}">'
        for kind, drawn in (("wide", wide), ("narrow", narrow))
    )


def note(text: str) -> str:
    """A remark in quiet type."""
    return _note(text)


def _note(text: str) -> str:
    return f'<p class="tb-note">{for_html(text)}</p>' if text else ""


def word(title: str, text: str, kind: str = "") -> str:
    """One thing to remember, on a card; ``kind`` is '', 'unsure' or 'limit'."""
    return (
        f'<section class="tb-word {kind}"><h3>{for_html(title)}</h3><p>{for_html(text)}</p>'
        "</section>"
    )


def words(cards: Iterable[str]) -> str:
    """Cards side by side where there is room."""
    return f'<div class="tb-words">{"".join(cards)}</div>'


def lines(texts: Iterable[str]) -> str:
    """A short list."""
    return f'<ul class="tb-lines">{"".join(f"<li>{for_html(text)}</li>" for text in texts)}</ul>'


def chip(text: str, kind: str = "") -> str:
    """A verdict; ``kind`` ('', 'open', 'quiet', 'clay') sets border and colour."""
    return f'<span class="tb-chip {kind}">{for_html(text)}</span>'


def table(shown: Table, chips: Sequence[tuple[str, str]] = ()) -> str:
    """A table that becomes a list of cards on a phone.

    ``chips`` are (cell text, kind of chip): such a cell is drawn as a chip.
    """
    kinds = dict(chips)
    sides = [' class="right"' if column.right else "" for column in shown.columns]
    labels = [for_html(column.heading) for column in shown.columns]
    head = "".join(
        f'<th scope="col"{side}>{label}</th>' for side, label in zip(sides, labels, strict=True)
    )

    def cell(text: str, side: str, label: str) -> str:
        inside = chip(text, kinds[text]) if text in kinds else for_html(text)
        return f'<td{side} data-label="{label}">{inside}</td>'

    body = "".join(
        "<tr>" + "".join(cell(*parts) for parts in zip(row, sides, labels, strict=True)) + "</tr>"
        for row in shown.rows
    )
    return (
        f'<div class="tb-scroll"><table class="tb-table"><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )


def alert(text: str) -> str:
    """A refusal: what is wrong and what to do."""
    body = "".join(f"<p>{for_html(line)}</p>" for line in text.splitlines() if line.strip())
    return f'<div class="tb-alert" role="alert">{body}</div>'


def done(text: str) -> str:
    """Something was done."""
    return f'<div class="tb-done" role="status"><p>{for_html(text)}</p></div>'


def standing(rank: int, name: str, chips: Iterable[str], facts: Iterable[str], reasons: str) -> str:
    """One variety's place: its verdict, its prospects, and on demand the reasons."""
    return (
        '<details class="tb-row"><summary><div class="tb-row-head">'
        f'<span class="tb-rank">{rank}</span>'
        f'<span class="tb-name">{for_html(name)}</span>{"".join(chips)}'
        '<span class="tb-why">why</span></div>'
        f"<p>{_facts(facts)}</p></summary>"
        f'<p class="tb-reasons">{for_html(reasons)}</p></details>'
    )


def _facts(texts: Iterable[str]) -> str:
    """Facts on a line, none of them torn apart where there is room for it."""
    return " ".join(f'<span class="tb-fact">{for_html(text)}</span>' for text in texts)


def facts(texts: Iterable[str]) -> str:
    """Facts on a line in quiet type, none of them torn apart where there is room for it."""
    return f'<p class="tb-note">{_facts(texts)}</p>'


def photos(tiles: Iterable[str]) -> str:
    """Photos side by side where there is room."""
    return f'<div class="tb-photos">{"".join(tiles)}</div>'


def photo(content: bytes, alt: str, words: Iterable[str], address: str = "") -> str:
    """A photo (JPEG) in small with its words; ``address`` is where it is seen whole."""
    drawn = b64encode(content).decode()
    image = (
        f'<img class="tb-photo-picture" alt="{for_html(alt)}" src="data:image/jpeg;base64,{drawn}">'
    )
    if address:
        image = f'<a href="{for_html(address)}" target="_blank">{image}</a>'
    return f'<div class="tb-photo">{image}{_photo_words(words)}</div>'


def lost_photo(problem: str, words: Iterable[str]) -> str:
    """A photo whose file is gone: what is wrong in its place."""
    return f'<div class="tb-photo">{alert(problem)}{_photo_words(words)}</div>'


def _photo_words(words: Iterable[str]) -> str:
    return "".join(f'<p class="tb-note">{for_html(text)}</p>' for text in words if text)


def rows(items: Iterable[str]) -> str:
    """Standings under one another."""
    return f'<div class="tb-rows">{"".join(items)}</div>'


def total(text: str) -> str:
    """What it all comes to."""
    body = "<br>".join(for_html(line) for line in text.splitlines())
    return f'<p class="tb-total">{body}</p>'


def card(
    *, eyebrow: str, title: str, stage: str, needs: str, facts: Iterable[str], ended: str
) -> str:
    """A trial's card; ``stage`` is a chip."""
    line = " · ".join(for_html(fact) for fact in facts if fact)
    end = _note(ended)
    return (
        f'<p class="tb-eyebrow">{for_html(eyebrow)}</p>'
        f'<h2 class="tb-question">{for_html(title)}</h2>'
        f'<p class="tb-needs">{stage} {for_html(needs)}</p>'
        f'<p class="tb-note">{line}</p>{end}'
    )


def signed_in(name: str, role: str) -> str:
    """Who is signed in, and the way out."""
    return (
        f'<p class="tb-note">Signed in: {for_html(name)} ({for_html(role)}). '
        '<a href="/sign-out" target="_self">Sign out</a></p>'
    )


def way_to_phone(address: str) -> str:
    """The way from the tally page to the one that works without signal."""
    return (
        f'<p class="tb-phone"><a href="{for_html(address)}" target="_self">'
        "Tally with one thumb, also without signal</a></p>"
    )


def signed_out(text: str) -> str:
    """The session ended while the page was open."""
    return f'{alert(text)}<p><a href="/" target="_self">Sign in</a></p>'


def scan(picture: str, link: str, words: str) -> str:
    """A code to scan, its link, and what it is for; ``picture`` is SVG of our own."""
    drawn = b64encode(picture.encode()).decode()
    return (
        f'<img class="tb-scan" alt="QR code" src="data:image/svg+xml;base64,{drawn}">'
        f'<p class="tb-note">{for_html(words)}</p>'
        f'<p class="tb-note">{for_html(link)}</p>'
    )


def progress(done: int, of: int, words: str) -> str:
    """How much of a walk is done."""
    share = 100 * done / of if of else 0
    return (
        f'<div class="tb-progress"><div style="width:{share:.1f}%"></div></div>'
        f'<p class="tb-note">{for_html(words)}</p>'
    )


def plot_head(code: str, place: str, treatment: str) -> str:
    """The plot at which somebody stands, to be read at arm's length in the sun."""
    grows = f'<p class="tb-grows">{for_html(treatment)}</p>' if treatment else ""
    return (
        f'<section class="tb-plot"><p class="tb-code">{for_html(code)}</p>'
        f'<div><p class="tb-place">{for_html(place)}</p>{grows}</div></section>'
    )
