"""The words growers write above their columns, and the column of ours that each stands for."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from trials.model.rows import Sheet
from trials.records.mapping.numbers import grade, unit_word
from trials.records.mapping.plot_codes import spelled_alike
from trials.records.mapping.plot_labels import BY, KnownPlots, plain_label
from trials.records.mapping.reading import DecimalMark, Unit, own_unit
from trials.records.rules.days import looks_like_a_day
from trials.records.rules.forms import FORMS

_PARTS = re.compile(r"[^\W_]+|[\"″”']+", re.UNICODE)
# Words that say nothing about which column it is.
_EMPTY = frozenset({"the", "of", "a", "an", "per", "no", "nr", "number", "id", "code", "name"})
_EMPTY |= frozenset({"num", "total", "date", "on", "in", "at"})
TOTALS = frozenset({"total", "totals", "sum", "mean", "average", "avg", "all", "subtotal"})

_PLOT = "plot; plots; plot code; tag; label; parcel; parzelle; parcelle; plot id; plot no"
_ON = "day; date; when; datum; fecha; recorded; recorded on"
_CUT_ON = f"{_ON}; cut; cut date; cut on; cutting date; harvest; harvest date; harvested; picked on"
_CUT_ON += "; pick date; picking date; date cut; date picked; date harvested; cut day; picked"
_CUT_ON += "; récolté le; récolte; coupé le; geerntet; geerntet am; erntedatum; schnittdatum"
_WORDS: Mapping[Sheet, Mapping[str, str]] = {
    Sheet.CUTS: {
        "plot": _PLOT,
        "cut_on": _CUT_ON,
        "stems": "stems; stem count; count; stems cut; stems picked; stems harvested; quantity; "
        "qty; marketable; marketable stems; number of stems; no of stems; tally; stiele; tiges",
        "grade_cm": "grade; length grade; length class; class; size; stem length; length; "
        "stem grade; klasse; sortierung; catégorie; calibre",
        "cull_reason": "cull reason; cull; culled; defect; reason; fault; why culled",
        "outcome": "outcome; status; picked or missed",
    },
    Sheet.STAND_COUNTS: {
        "plot": _PLOT,
        "counted_on": f"{_ON}; counted; count date; date counted",
        "living": "living; alive; living plants; plants alive; plants living; stand; survivors; "
        "stand count; surviving; plants; live plants; number alive; count",
    },
    Sheet.STEM_SAMPLES: {
        "plot": _PLOT,
        "cut_on": f"{_CUT_ON}; measured; measured on; date measured",
        "stem": "stem; stem no; sample; sample no; stem number; no; nr; number; replicate stem",
        "length_cm": "length; stem length; height; len; länge; longueur",
    },
    Sheet.SCORES: {
        "plot": _PLOT,
        "scored_on": f"{_ON}; scored; date scored; score date",
        "trait": "trait; what; scored what; character; measure",
        "value": "value; score; rating; mark; points",
    },
    Sheet.EVENTS: {
        "trial": "trial; trial code; experiment",
        "plot": _PLOT,
        "happened_on": f"{_ON}; happened",
        "kind": "kind; event; what; what happened; type",
        "reason": "reason; note; notes; why; remark; remarks; comment; comments",
    },
    Sheet.PLOTS: {
        "trial": "trial; trial code; experiment",
        "plot": _PLOT,
        "block": "block; rep; replicate; replication; repetition; bloc",
        "whole_plot": "whole plot; main plot; whole plot no",
        "bed": "bed; row; bed no",
        "position": "position; place; pos; place in bed",
        "lot": "lot; seed lot; lot no",
        "plants_set": "plants set; plants; plants planted; number of plants; plugs; no of plants",
        "net_length_m": "net length; length; plot length; bed length; length of bed",
        "net_area_m2": "net area; area; plot area",
        "transplanted_on": f"{_ON}; transplanted; planted; planting date; transplant date; "
        "transplanted on; planted on; date planted; set out",
    },
    Sheet.VARIETIES: {
        "variety": "variety; cultivar; name; sort",
        "crop": "crop; species; flower; genus",
        "colour": "colour; color; shade",
        "habit": "habit; type; growth habit",
    },
    Sheet.SEED_ITEMS: {
        "house": "house; seed house; supplier; vendor; company; source",
        "item": "item; item no; catalogue no; catalog no; sku; product",
        "variety": "variety; cultivar; name",
        "seeds": "seeds; seeds per pack; seeds in pack; seed count; pack size; count",
        "price": "price; price per pack; cost; each",
        "price_year": "price year; year of prices; list year; catalogue year; prices of; year",
        "from_packs": "from packs; from; minimum packs; min qty; packs",
        "available": "available; in stock; stock",
        "grams": "grams; g; weight; weight g; packet weight",
        "seeds_per_gram": "seeds per gram; seeds a gram; seeds per g",
        "sold_as": "sold as; form; seed or plugs",
        "seed_saving": "seed saving; saving seed; may be saved",
    },
    Sheet.SEED_LOTS: {
        "lot": "lot; lot no; batch",
        "house": "house; seed house; supplier; vendor; company; source",
        "item": "item; item no; catalogue no; catalog no; sku; product",
        "packed_for": "packed for; year; packed; season",
        "germination": "germination; germ; germination rate",
    },
}
# What a sheet cannot do without; the rest may be told, or be left out.
CORE: Mapping[Sheet, tuple[str, ...]] = {
    Sheet.CUTS: ("plot", "cut_on", "stems"),
    Sheet.STAND_COUNTS: ("plot", "counted_on", "living"),
    Sheet.STEM_SAMPLES: ("plot", "cut_on", "length_cm"),
    Sheet.SCORES: ("plot", "scored_on", "value"),
}
# Words in the name of a file or sheet that say what was counted.
HINTS: Mapping[Sheet, tuple[str, ...]] = {
    Sheet.CUTS: ("cut", "stems", "pick", "harvest", "tall", "yield"),
    Sheet.STAND_COUNTS: ("stand", "alive", "living", "surviv", "count"),
    Sheet.STEM_SAMPLES: ("length", "sample", "height"),
    Sheet.SCORES: ("score", "rating", "vase"),
}


@dataclass(frozen=True, slots=True)
class HeadingWords:
    """A heading taken apart: its words, and the unit written behind them."""

    words: str
    unit: Unit | None


def heading_words(heading: str) -> HeadingWords:
    """The words of a heading in small letters, without a unit at its end."""
    parts = _PARTS.findall(heading.casefold())
    unit = None
    for words in (2, 1):
        if unit is None and len(parts) > words:
            unit = unit_word(" ".join(parts[-words:]))
            parts = parts[:-words] if unit is not None else parts
    return HeadingWords(" ".join(parts), unit)


def _phrases(sheet: Sheet) -> dict[str, str]:
    """Each phrase that stands for a column of the sheet; the first to claim one keeps it."""
    found: dict[str, str] = {}
    for field in FORMS[sheet].names:
        own = heading_words(field).words
        found.setdefault(own, field)
        found.setdefault(field.replace("_", " "), field)
    for field, phrases in _WORDS.get(sheet, {}).items():
        for phrase in phrases.split(";"):
            found.setdefault(phrase.strip(), field)
    return found


_PHRASES: Mapping[Sheet, dict[str, str]] = {sheet: _phrases(sheet) for sheet in Sheet}


def field_of(heading: str, sheet: Sheet) -> str | None:
    """The column of a sheet that a heading most likely stands for; None where none is near."""
    taken = heading_words(heading)
    phrases = _PHRASES[sheet]
    bare = " ".join(word for word in taken.words.split() if word not in _EMPTY)
    full = " ".join(_PARTS.findall(heading.casefold()))
    return phrases.get(full) or phrases.get(taken.words) or phrases.get(bare)


def unit_of(heading: str, field: str) -> Unit | None:
    """The unit a heading gives for a column of lengths; our own headings carry ours."""
    own = own_unit(field)
    if own is None:
        return None
    return heading_words(heading).unit


def label_in(heading: str, texts: Collection[str], plots: KnownPlots) -> str | None:
    """The label by which a column tells plots, such as their block or variety; None of any other.

    A heading that says so needs half of the cells to be such labels, any other heading all of them.
    """
    words = heading_words(heading).words
    told = {words, field_of(heading, Sheet.PLOTS), field_of(heading, Sheet.VARIETIES)}
    said = [text for text in texts if text.strip()]
    best: str | None = None
    for name in plots.names:
        plain = set(map(plots.plain(name), said))
        there = plain & plots.levels(name)
        named = name in told or name.replace("_", " ") in told
        short = sum(bool(plots.short_for(name, text)) for text in said[:50]) if named else 0
        if named and (len(there) + short) * 2 >= len(plain) > 0:
            return name
        # Bare numbers may be anything; the names of varieties, or "pinched", are not.
        if there == plain and plain and not any(text.isdecimal() for text in plain):
            best = best or name
    return best


def label_over(heading: str, plots: KnownPlots) -> str | None:
    """What a heading tells of the plots whose records stand under it, as ``plot by variety``."""
    if heading.strip().isdecimal():
        return None
    word = heading.casefold().split()[:1]
    said = field_of(word[0], Sheet.PLOTS) if word and len(heading.split()) > 1 else None
    if said in plots.names and plots.plain(said)(heading) in plots.levels(said):
        return BY + said
    if plain_label(heading).isdecimal():
        return None
    names = [name for name in plots.names if plots.plain(name)(heading) in plots.levels(name)]
    return BY + names[0] if names else None


def spread_of(heading: str, plots: KnownPlots) -> str | None:
    """What kind of fact a heading is: a day, a plot, a grade, or the number of a stem."""
    text = heading.strip()
    if looks_like_a_day(text):
        return "day"
    if text in plots.codes or spelled_alike(text, plots.codes):
        return "plot"
    if re.fullmatch(r"(?:(?:stem|sample|s|no\.?)[ _#]*)?(?:[1-9]|10)", text.casefold()):
        return "stem"  # a grade of 10 cm and less is no grade
    if re.fullmatch(r"(?:stem|sample|s)[ _#]*\d{1,2}", text.casefold()):
        return "stem"
    words = heading_words(text).words
    if words.split()[:1] in (["grade"], ["length"]):
        text = text.split(maxsplit=1)[-1]
    cm = grade(text, DecimalMark.POINT, Unit.CM)
    return "grade_cm" if cm is not None and 0 <= int(cm) <= 250 else None
