"""A document as one HTML file that stands alone: it asks for nothing and runs nothing."""

from __future__ import annotations

import html
from base64 import b64encode
from collections.abc import Iterable

from trials.drawing.document import Document, Grid, Heading, Listing, Paragraph, Part, Photo, Photos
from trials.drawing.scales import shown
from trials.drawing.svg import device_style, svg_within

# Nothing may be fetched or run, whatever a name in the records holds (W3C Content Security Policy).
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'"
)
_STYLE = """
:root{color-scheme:light dark}
body{margin:0 auto;padding:1.5rem 1rem 4rem;max-width:46rem;background:var(--ground);
color:var(--text);font:17px/1.5 'Source Sans 3','Helvetica Neue',Arial,sans-serif;
overflow-wrap:anywhere}
h1{font-size:1.7rem;line-height:1.2;margin:0}
h2{font-size:1.3rem;margin:2.2rem 0 .4rem;border-top:2px solid var(--rule);padding-top:.8rem}
h3{font-size:1.05rem;margin:1.3rem 0 .2rem}
p,ul{margin:.4rem 0}ul{padding-left:1.2rem}
.facts,figcaption,footer{color:var(--quiet)}
.strong{font-size:1.25rem;line-height:1.4;font-weight:600}
figure{margin:1.1rem 0}figure svg{width:100%;height:auto;display:block}
figcaption b{color:var(--text);display:block}
.photos{display:grid;grid-template-columns:repeat(auto-fill,minmax(11rem,1fr));gap:1rem}
.photos img{width:100%;height:auto;display:block}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.92rem;margin:.7rem 0;
font-variant-numeric:tabular-nums;overflow-wrap:normal}
table.small{font-size:.72rem}
th,td{text-align:left;vertical-align:top;padding:.25rem .5rem .25rem 0;
border-bottom:1px solid var(--rule)}
th.figure,td.figure{text-align:right}
@media print{body{max-width:none;padding:0;font-size:10pt}h2,h3{break-after:avoid}
figure,tr{break-inside:avoid}thead{display:table-header-group}.scroll{overflow:visible}}
"""


def html_file(document: Document, foot: str) -> str:
    """The document as HTML, light or dark as the reader's device is set, light on paper."""
    facts = " · ".join(_text(fact) for fact in document.facts if fact)
    body = "".join(_part(part) for part in document.parts)
    title = _text(document.title)
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{title}</title><style>{device_style(':root')}{_STYLE}</style></head>"
        f'<body><main><h1>{title}</h1><p class="facts">{facts}</p>{body}</main>'
        f"<footer><p>{_text(foot)}</p></footer></body></html>\n"
    )


def _part(part: Part) -> str:
    if isinstance(part, Heading):
        return f"<h{part.level}>{_text(part.text)}</h{part.level}>"
    if isinstance(part, Paragraph):
        kind = ' class="strong"' if part.strong else ""
        return f"<p{kind}>{_text(part.text)}</p>"
    if isinstance(part, Listing):
        return f"<ul>{''.join(f'<li>{_text(item)}</li>' for item in part.items)}</ul>"
    if isinstance(part, Grid):
        return _grid(part)
    if isinstance(part, Photos):
        return f'<div class="photos">{"".join(map(_photo, part.photos))}</div>'
    return (
        f"<figure>{svg_within(part)}<figcaption><b>{_text(part.title)}</b>"
        f"{_text(part.note)}</figcaption></figure>"
    )


def _photo(photo: Photo) -> str:
    drawn = b64encode(photo.content).decode()
    return (
        f'<figure><img alt="{_text(photo.alt)}" width="{photo.width}" height="{photo.height}" '
        f'src="data:image/jpeg;base64,{drawn}"><figcaption>{_text(photo.words)}</figcaption>'
        "</figure>"
    )


def _grid(grid: Grid) -> str:
    sides = [' class="figure"' if figure else "" for figure in grid.figures]
    heads = _cells("th", grid.headings, [f' scope="col"{side}' for side in sides])
    rows = "".join(f"<tr>{_cells('td', row, sides)}</tr>" for row in grid.rows)
    kind = ' class="small"' if grid.small else ""
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{_text(grid.headings[0])}">'
        f"<table{kind}><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _cells(tag: str, texts: Iterable[str], sides: Iterable[str]) -> str:
    return "".join(
        f"<{tag}{side}>{_text(text)}</{tag}>" for text, side in zip(texts, sides, strict=True)
    )


def _text(text: str) -> str:
    return html.escape(shown(text), quote=True)
