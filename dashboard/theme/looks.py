"""How the pages look: colours for light and dark, type, and the style of our own HTML."""

from __future__ import annotations

from trials.drawing.inks import DARK, LIGHT, Ink, Palette
from trials.drawing.svg import device_style

# Earth and leaf on warm paper: STONE for marks only, never words. They are written as they are in
# light; ``by_device`` lets a style follow the reader's device.
PAPER = LIGHT[Ink.GROUND]
CARD = LIGHT[Ink.CARD]
SAND = LIGHT[Ink.BAND]
LINE = LIGHT[Ink.RULE]
INK = LIGHT[Ink.TEXT]
SOFT_INK = LIGHT[Ink.QUIET]
LEAF = LIGHT[Ink.LEAF]
CLAY = LIGHT[Ink.CLAY]
STONE = LIGHT[Ink.STONE]

BASE_FONT_PX = 18

# Outlines of fields contrast 3:1 with their ground (WCAG 2.2, 1.4.11): a rule of a table need not.
FIELD_LINE = {"light": STONE, "dark": DARK[Ink.STONE]}


def _shade(kind: str, palette: Palette) -> dict[str, object]:
    """Streamlit's colours of one of the two settings, of which the device chooses."""
    return {
        f"theme.{kind}.primaryColor": palette[Ink.LEAF],
        f"theme.{kind}.backgroundColor": palette[Ink.GROUND],
        f"theme.{kind}.secondaryBackgroundColor": palette[Ink.BAND],
        f"theme.{kind}.textColor": palette[Ink.TEXT],
        f"theme.{kind}.linkColor": palette[Ink.LEAF],
        f"theme.{kind}.borderColor": FIELD_LINE[kind],
    }


THEME: dict[str, object] = {
    **_shade("light", LIGHT),
    **_shade("dark", DARK),
    "theme.baseFontSize": BASE_FONT_PX,
    "theme.headingFont": "serif",
    "theme.baseRadius": "6px",
    "theme.showWidgetBorder": True,
}


def by_device(css: str) -> str:
    """A style written in the colours of light, so that it follows the device's setting."""
    for ink, colour in LIGHT.items():
        css = css.replace(colour, f"var(--{ink.value})")
    return css


STYLE = f"<style>{device_style(':root')}</style>" + by_device(f"""<style>
.stMainBlockContainer {{ max-width: 72rem; padding-top: 4.5rem; padding-bottom: 5rem;
  overflow-wrap: break-word; }}
.tb-eyebrow {{ color: {SOFT_INK}; letter-spacing: .02em; margin: 0 0 .15rem;
  overflow-wrap: anywhere; }}
.tb-title {{ font-family: "Source Serif", serif; font-weight: 600; font-size: 2.05rem;
  line-height: 1.2; margin: 0; color: {INK}; text-wrap: balance; overflow-wrap: anywhere; }}
.tb-question {{ font-family: "Source Serif", serif; font-weight: 600; font-size: 1.3rem;
  line-height: 1.3; margin: 0; padding: 0; color: {INK}; overflow-wrap: anywhere; }}
.tb-needs {{ margin: .6rem 0 .35rem; }}
.tb-needs .tb-chip {{ margin-right: .4rem; }}
.tb-fact {{ display: inline-block; margin-right: 1.1rem; }}
.st-key-phone_nav {{ display: none; }}
.tb-facts {{ color: {SOFT_INK}; margin: .45rem 0 0; }}
.tb-h2 {{ font-family: "Source Serif", serif; font-weight: 600; font-size: 1.4rem;
  line-height: 1.25; margin: 1.6rem 0 .1rem; color: {INK}; overflow-wrap: anywhere; }}
.tb-h3 {{ font-weight: 600; font-size: 1.08rem; line-height: 1.3; margin: .6rem 0 0;
  color: {INK}; overflow-wrap: anywhere; }}
.tb-note {{ color: {SOFT_INK}; font-size: .92rem; line-height: 1.45; margin: .1rem 0 0;
  max-width: 46rem; overflow-wrap: anywhere; }}
[data-testid="stPopoverBody"]:has([data-testid="stDataFrame"]) {{
  min-width: min(64rem, 94vw); }}
.tb-words {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(17rem, 1fr));
  gap: 1rem; margin: 1rem 0 .5rem; align-items: start; }}
.tb-word {{ background: {CARD}; border: 1px solid {LINE}; border-top: 5px solid {LEAF};
  border-radius: 6px; padding: .9rem 1.1rem 1.1rem; overflow-wrap: anywhere; }}
.tb-word.unsure {{ border-top-color: {STONE}; }}
.tb-word.limit {{ border-top-color: {CLAY}; }}
.tb-word h3 {{ font-size: 1rem; font-weight: 600; margin: 0 0 .4rem; padding: 0;
  color: {SOFT_INK}; font-family: inherit; }}
.tb-word p {{ font-family: "Source Serif", serif; font-size: 1.14rem; line-height: 1.5;
  margin: 0; }}
.tb-word p + p {{ margin-top: .6rem; }}
.tb-lines {{ margin: .2rem 0 0; padding: 0 0 0 1.1rem; line-height: 1.5; }}
.tb-lines li {{ margin: 0 0 .25rem; overflow-wrap: anywhere; }}
.tb-lines li::marker {{ color: {STONE}; }}
.tb-chip {{ display: inline-block; padding: .1rem .6rem .14rem; border-radius: 1rem;
  font-weight: 600; font-size: .9rem; white-space: nowrap; border: 2px solid {LEAF};
  background: {LEAF}; color: {CARD}; }}
.tb-chip.open {{ background: transparent; color: {LEAF}; }}
.tb-chip.quiet {{ border: 2px dotted {STONE}; background: transparent; color: {SOFT_INK}; }}
.tb-chip.clay {{ border-color: {CLAY}; background: transparent; color: {CLAY}; }}
.tb-scroll {{ overflow-x: auto; }}
table.tb-table {{ border-collapse: collapse; width: 100%; font-size: .96rem; line-height: 1.35;
  margin: .4rem 0 .2rem; font-variant-numeric: tabular-nums; }}
.tb-table th {{ text-align: left; font-weight: 600; color: {SOFT_INK}; padding: .35rem .7rem;
  border-bottom: 2px solid {LINE}; vertical-align: bottom; }}
.tb-table td {{ padding: .42rem .7rem; border-bottom: 1px solid {LINE}; vertical-align: top;
  overflow-wrap: break-word; }}
@media (min-width: 40.01rem) {{  /* so that eight columns or more fit a part of a page */
  .tb-table:has(th:nth-child(8)) :is(th, td) {{ padding-inline: .35rem; }}
}}
.tb-table th.right, .tb-table td.right {{ text-align: right; }}
.tb-table td.right {{ white-space: nowrap; }}
.tb-table td:first-child {{ font-weight: 600; }}
.tb-rows {{ margin: .4rem 0 1rem; border-top: 1px solid {LINE}; }}
.tb-row {{ border-bottom: 1px solid {LINE}; padding: .7rem .2rem .75rem; }}
.tb-row-head {{ position: relative; padding-right: 2.8rem; display: flex; flex-wrap: wrap;
  gap: .2rem .8rem; align-items: baseline; }}
.tb-rank {{ color: {SOFT_INK}; min-width: 1.5rem; text-align: right;
  font-variant-numeric: tabular-nums; }}
.tb-name {{ font-weight: 600; font-size: 1.12rem; overflow-wrap: anywhere; }}
.tb-row summary {{ cursor: pointer; list-style: none; }}
.tb-row summary::-webkit-details-marker {{ display: none; }}
.tb-row p {{ margin: .2rem 0 0 2.3rem; color: {SOFT_INK}; line-height: 1.45; }}
.tb-row p.tb-reasons {{ margin-top: .5rem; padding-left: .9rem; border-left: 3px solid {LEAF};
  color: {INK}; max-width: 46rem; }}
.tb-why {{ position: absolute; right: 0; top: 0; color: {LEAF}; text-decoration: underline;
  text-underline-offset: 3px; }}
.stPageLink a {{ border: 1.5px solid {LEAF}; border-radius: 6px; padding: .45rem .9rem; }}
.stPageLink a p {{ color: {LEAF}; font-weight: 600; }}
.tb-alert, .tb-done {{ border-left: 6px solid {CLAY}; background: {CARD}; padding: .8rem 1.1rem;
  margin: .6rem 0; border-radius: 0 6px 6px 0; overflow-wrap: anywhere; }}
.tb-alert p, .tb-done p {{ margin: 0; line-height: 1.5; }}
.tb-alert p + p {{ margin-top: .35rem; }}
.tb-done {{ border-left-color: {LEAF}; }}
.tb-progress {{ height: 12px; background: {SAND}; border: 1px solid {LINE}; border-radius: 6px;
  overflow: hidden; }}
.tb-progress div {{ height: 100%; background: {LEAF}; }}
.tb-plot {{ display: flex; gap: 1rem; align-items: center; border: 2px solid {INK};
  border-radius: 6px; padding: .5rem 1rem; background: {CARD}; }}
.tb-plot p {{ margin: 0; overflow-wrap: anywhere; }}
.tb-code {{ font-weight: 700; font-size: 2.1rem; line-height: 1.2; letter-spacing: .03em; }}
.tb-place {{ font-weight: 600; }}
[class*="st-key-grades"] > div, .st-key-culls > div, .st-key-lengths > div, .st-key-other > div
  {{ flex: 1 1 7.4rem !important; min-width: 6.6rem; }}
[class*="st-key-grades"] input, .st-key-culls input, .st-key-lengths input, .st-key-other input
  {{ min-height: 48px; font-size: 1.25rem; font-weight: 600; text-align: center; }}
[class*="st-key-grades"] [data-testid=stIconMaterial], .st-key-culls [data-testid=stIconMaterial],
.st-key-lengths [data-testid=stIconMaterial], .st-key-other [data-testid=stIconMaterial]
  {{ display: none; }}
.st-key-no_stems button, .st-key-mishap button, [class*="st-key-typed-"] button
  {{ min-height: 54px; }}
.st-key-correction button, [class*="st-key-correct-"] button {{ min-height: 54px; }}
[class*="st-key-record-"] button, [class*="st-key-next"] button {{ min-height: 60px;
  font-size: 1.15rem; font-weight: 600; }}
.tb-scan {{ width: 15rem; max-width: 100%; display: block; }}
.tb-note a {{ color: {LEAF}; }}
.tb-phone {{ margin: 0; }}
.tb-phone a {{ display: inline-block; min-height: 44px; line-height: 42px; padding: 0 .9rem;
  border: 1.5px solid {LEAF}; border-radius: 6px; color: {LEAF}; font-weight: 600; }}
.st-key-bed {{ max-width: 38rem; }}
.st-key-foot {{ border-top: 1px solid {LINE}; margin-top: 2.5rem; padding-top: 1rem; }}
.tb-total {{ font-family: "Source Serif", serif; font-size: 1.25rem; line-height: 1.45;
  margin: .6rem 0 0; overflow-wrap: anywhere; }}
.tb-answer {{ font-family: "Source Serif", serif; font-weight: 600; font-size: 1.6rem;
  line-height: 1.3; margin: .8rem 0 0; padding: 0; color: {INK}; max-width: 46rem;
  overflow-wrap: anywhere; }}
.tb-but {{ margin: .35rem 0 0; max-width: 46rem; overflow-wrap: anywhere; }}
.tb-picture {{ display: block; width: 100%; max-width: 47rem; height: auto; }}
.tb-picture.narrow {{ display: none; }}
.tb-photos {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(13rem, 1fr));
  gap: 1rem; margin: .5rem 0; }}
.tb-photo a {{ display: block; min-height: 44px; }}
.tb-photo-picture {{ display: block; width: 100%; height: auto; border: 1px solid {LINE};
  border-radius: 6px; }}
[class*="st-key-variety_row_"] {{ gap: .1rem 1rem !important; }}
[class*="st-key-variety_row_"] > div:last-child {{ min-width: 17rem; }}
@media (max-width: 40rem) {{
  .tb-answer {{ font-size: 1.3rem; }}
  .tb-picture.wide {{ display: none; }}
  .tb-picture.narrow {{ display: block; }}
  .stMainBlockContainer {{ padding-left: 1rem; padding-right: 1rem; padding-top: 4rem; }}
  .st-key-phone_nav {{ display: flex; border-bottom: 1px solid {LINE}; gap: 0 .9rem !important;
    padding-bottom: .3rem; }}
  .st-key-phone_nav .stPageLink a {{ border: 0; padding: .45rem .25rem; min-height: 44px; }}
  .tb-title {{ font-size: 1.6rem; }}
  .tb-row p, .tb-row p.tb-reasons {{ margin-left: 0; }}
  .tb-rank {{ min-width: 0; }}
  table.tb-table, .tb-table tbody, .tb-table tr {{ display: block; }}
  .tb-table thead {{ position: absolute; left: -10000px; }}
  .tb-table tr {{ border-bottom: 1px solid {LINE}; padding: .55rem 0; }}
  .tb-table td, .tb-table td.right {{ display: inline-block; border: 0; text-align: left;
    padding: .05rem .9rem .05rem 0; white-space: normal; max-width: 100%;
    overflow-wrap: anywhere; box-sizing: border-box; }}
  .tb-table td::before {{ content: attr(data-label) " "; color: {SOFT_INK}; font-weight: 400; }}
  .tb-table td:first-child {{ display: block; font-size: 1.05rem; }}
  .tb-table td:first-child::before {{ content: none; }}
  .tb-table td:empty {{ display: none; }}
}}
</style>""")
