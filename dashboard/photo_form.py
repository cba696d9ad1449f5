"""Photos on a page: shown in small with what they show, added by a form, and withdrawn."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from secrets import token_hex

import streamlit as st

from dashboard import data, example, variety_data
from dashboard.access.visitor import WRITERS, said, visitor
from dashboard.redrawn import draw_again
from dashboard.theme import markup
from trials.errors import RecordsRefused, TallybedError
from trials.model.photo import LONGEST_CAPTION, MOST_AT_ONCE, PhotoOf, PhotosAdded, StoredPhoto
from trials.report.photo_words import (
    NO_PHOTOS,
    PLACE_DATA_GONE,
    added_sentence,
    photo_alt,
    photo_facts,
    photo_shows,
)

KINDS = ["jpg", "jpeg", "png", "webp"]
OF_A_VARIETY, OF_A_PLOT = "a variety", "a plot"


def show_photos(photos: Sequence[StoredPhoto]) -> None:
    """The photos side by side, each with what it shows; a touch opens it whole."""
    if not photos:
        st.html(markup.note(NO_PHOTOS))
        return
    st.html(markup.photos(_tile(photo) for photo in photos))


def _tile(photo: StoredPhoto) -> str:
    words = [photo_shows(photo), photo.caption, photo_facts(photo)]
    try:
        small = variety_data.thumbnail(photo.sha256)
    except TallybedError as refusal:
        return markup.lost_photo(said(refusal), words)
    # The example farm is of this visit alone, and addresses know nothing of visits.
    address = "" if example.is_open() else f"/photo/{photo.sha256}"
    return markup.photo(small, photo_alt(photo), words, address)


def show_form(variety: str) -> None:
    """Add photos of a variety, where its visitor may write."""
    if visitor().role in WRITERS:
        with st.expander("Add photos"):
            _form(f"photos of {variety}", variety=variety)


def show_any_form() -> None:
    """Add photos of a variety or a plot that is chosen first."""
    st.html(markup.note(f"{PLACE_DATA_GONE} On a phone, add photos on the page of the plot."))
    shows = st.segmented_control(
        "The photos show",
        [OF_A_VARIETY, OF_A_PLOT],
        default=OF_A_VARIETY,
        required=True,
        key="photos show",
    )
    if shows == OF_A_VARIETY:
        names = [each.variety for each in variety_data.varieties()]
        name = st.selectbox("Variety", names, index=None, key="photo variety")
        _form("photos of a variety", variety=name)
        return
    codes = [trial.code for trial in data.trials()]
    code = st.selectbox("Trial", codes, index=None, key="photo trial")
    plots = () if code is None else data.plot_codes(code)
    plot = st.selectbox("Plot", plots, index=None, key="photo plot")
    _form("photos of a plot", plot=plot)


def _form(name: str, variety: str | None = None, plot: str | None = None) -> None:
    token = _token_of(name)
    done: PhotosAdded | None = st.session_state.pop(f"done {name}", None)
    if done is not None:
        st.html(markup.done(added_sentence(done)))
    with st.form(f"{name} {token}", border=False):
        files = st.file_uploader(
            f"Photos, at most {MOST_AT_ONCE}", type=KINDS, accept_multiple_files=True
        )
        on = st.date_input("Day they were taken", value=date.today(), format="YYYY-MM-DD")
        caption = st.text_input("What there is to see", max_chars=LONGEST_CAPTION)
        asked = st.form_submit_button("Store the photos", type="primary")
    if not asked:
        return
    missing = [
        words
        for words, there in (
            ("the variety or plot", variety is not None or plot is not None),
            ("a photo", bool(files)),
            ("the day", on is not None),
        )
        if not there
    ]
    if missing:
        st.html(markup.alert(f"Nothing was stored. Still needed: {', '.join(missing)}."))
        return
    _store(name, [(file.name, file.getvalue()) for file in files], variety, plot, on, caption)


def _store(
    name: str,
    files: Sequence[tuple[str, bytes]],
    variety: str | None,
    plot: str | None,
    on: date,
    caption: str,
) -> None:
    try:
        done = variety_data.add_photos(files, PhotoOf(variety, plot, on, caption))
    except RecordsRefused as refused:
        faults = [f"{fault.file}: {fault.problem} {fault.remedy}" for fault in refused.faults]
        st.html(markup.alert("Nothing was stored.") + markup.lines(faults))
        return
    except TallybedError as refusal:
        st.html(markup.alert(said(refusal)))
        return
    st.session_state[f"done {name}"] = done
    st.session_state["photo tokens"].pop(name, None)
    draw_again()


def show_withdrawing(photos: Sequence[StoredPhoto]) -> None:
    """Remove one of these photos, with a reason, where its visitor may write."""
    if not photos or visitor().role not in WRITERS:
        return
    with st.expander("Withdraw a photo"):
        st.html(markup.note("It stays in the history: undo the change there to restore it."))
        of_name = {f"{photo_alt(photo)} ({photo.sha256[:6]})": photo for photo in photos}
        with st.form(f"withdraw {_token_of('withdraw')}", border=False):
            name = st.selectbox("Photo", list(of_name), index=None)
            why = st.text_input("Why it should not be there", max_chars=LONGEST_CAPTION)
            asked = st.form_submit_button("Withdraw this photo")
        if not asked:
            return
        if name is None or not why.strip():
            st.html(markup.alert("Nothing was withdrawn. Still needed: the photo and a reason."))
            return
        variety_data.withdraw_photo(of_name[name].sha256, why, _token_of("withdraw"))
        st.session_state["photo tokens"].pop("withdraw", None)
        draw_again()


def _token_of(name: str) -> str:
    """What keeps a form apart from the last one that was stored, so that its fields are empty."""
    tokens: dict[str, str] = st.session_state.setdefault("photo tokens", {})
    return tokens.setdefault(name, token_hex(16))
