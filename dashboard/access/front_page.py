"""How the forms before the pages look: our own HTML, without scripts, made for a phone."""

from __future__ import annotations

from dashboard.theme.looks import (
    BASE_FONT_PX,
    CARD,
    CLAY,
    INK,
    LEAF,
    PAPER,
    SOFT_INK,
    STONE,
    by_device,
)
from dashboard.theme.text import for_html
from trials.drawing.svg import device_style
from trials.model.trial import ROLE_WORDS, Invitation
from trials.season import LONGEST_NAME, LONGEST_PASSPHRASE, SHORTEST_PASSPHRASE

POLICY = {
    "content-security-policy": "default-src 'none'; style-src 'unsafe-inline'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    # Without any referrer a browser would not say that a form comes from a page of ours (Fetch
    # standard, "append a request Origin header").
    "referrer-policy": "same-origin",
}
STYLE = device_style(":root") + by_device(f"""
body {{ margin: 0; background: {PAPER}; color: {INK}; font: {BASE_FONT_PX}px/1.5 sans-serif; }}
main {{ max-width: 24rem; margin: 0 auto; padding: 2.5rem 1.2rem; }}
h1 {{ font: 600 1.7rem/1.25 serif; margin: 0 0 1rem; }}
label {{ display: block; font-weight: 600; margin: 1rem 0 .25rem; }}
input {{ box-sizing: border-box; width: 100%; min-height: 52px; font: inherit; padding: .4rem .7rem;
  border: 1.5px solid {STONE}; border-radius: 6px; background: {CARD}; color: {INK}; }}
input:focus, button:focus, a:focus {{ outline: 3px solid {LEAF}; outline-offset: 2px; }}
button {{ width: 100%; min-height: 56px; margin-top: 1.4rem; font: 600 1.05rem sans-serif;
  border: 0; border-radius: 6px; background: {LEAF}; color: {CARD}; }}
.note {{ color: {SOFT_INK}; font-size: .92rem; }}
.alert {{ border-left: 6px solid {CLAY}; background: {CARD}; padding: .7rem 1rem; margin: 0; }}
a {{ color: {LEAF}; }}
.other {{ display: block; text-align: center; border: 1.5px solid {LEAF}; border-radius: 6px;
  padding: .8rem; margin-top: 1rem; font-weight: 600; text-decoration: none; }}
""")


def _page(title: str, body: str, head: str = "") -> str:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"{head}<title>{for_html(title)}</title><style>{device_style(':root')}{STYLE}</style></head>"
        f"<body><main><h1>{for_html(title)}</h1>{body}</main></body></html>"
    )


def _alert(text: str) -> str:
    return f'<p class="alert" role="alert">{for_html(text)}</p>' if text else ""


def reopening(address: str) -> str:
    """Opens the sign-in once more, from a page of our own."""
    again = for_html(address)
    refresh = f'<meta http-equiv="refresh" content="0; url={again}">'
    return _page("Tallybed", f'<p><a href="{again}">Go on</a></p>', refresh)


def sign_in(after: str, *, name: str = "", refusal: str = "", service: str | None = None) -> str:
    """Name and passphrase; or another service, where one was set up."""
    other = ""
    if service is not None:
        other = f'<a class="other" href="{for_html(service)}">Sign in another way</a>'
    return _page(
        "Sign in",
        f"{_alert(refusal)}"
        '<form method="post" action="/sign-in">'
        f'<input type="hidden" name="next" value="{for_html(after)}">'
        '<label for="name">Your name</label>'
        f'<input id="name" name="name" value="{for_html(name[:LONGEST_NAME])}" required '
        f'maxlength="{LONGEST_NAME}" autocomplete="username" autocapitalize="words">'
        '<label for="passphrase">Your passphrase</label>'
        '<input id="passphrase" name="passphrase" type="password" required '
        f'maxlength="{LONGEST_PASSPHRASE}" autocomplete="current-password">'
        "<button>Sign in</button></form>"
        f"{other}"
        '<p class="note">No name yet, or the passphrase forgotten? '
        "The grower can invite you again.</p>",
    )


def invitation(found: Invitation, refusal: str = "") -> str:
    """Who is invited to what, and the fields for a passphrase."""
    return _page(
        f"Welcome, {found.name}",
        f"{_alert(refusal)}<p>You are invited as <b>{for_html(found.role.value)}</b>: "
        f'somebody who {for_html(ROLE_WORDS[found.role])}.</p><form method="post"><input '
        f'type="hidden" name="name" value="{for_html(found.name)}" '
        'autocomplete="username"><label for="passphrase">Choose a '
        'passphrase</label><input id="passphrase" name="passphrase" type="password" '
        f'required minlength="{SHORTEST_PASSPHRASE}" maxlength="{LONGEST_PASSPHRASE}" '
        'autocomplete="new-password"><label for="again">The same again</label><input '
        'id="again" name="again" type="password" required '
        f'maxlength="{LONGEST_PASSPHRASE}" autocomplete="new-password"><p '
        f'class="note">{SHORTEST_PASSPHRASE} characters or more: three or four words that '
        "nobody would guess, and that you use nowhere else.</p><button>Come "
        "in</button></form>",
    )


def no_invitation(refusal: str) -> str:
    """The link is not good."""
    return _page("This did not work", f'{_alert(refusal)}<p><a href="/">To the pages</a></p>')


def sign_out() -> str:
    """Once more, so that no link signs anybody out."""
    return _page(
        "Sign out of this device?",
        '<form method="post" action="/sign-out"><button>Sign out</button></form>'
        '<p><a href="/">Stay signed in</a></p>',
    )


def signed_out() -> str:
    """Done."""
    return _page("You are signed out", '<p><a href="/">Sign in again</a></p>')
