"""The bench sheet as a page that prints on one sheet of paper."""

from __future__ import annotations

from imagekeeper.planning.sheet import Sheet
from imagekeeper.present.html.pages import render

#: Behind the common style: smaller type, two columns of facts, long ones over both, boxes to tick.
STYLE = """
.bench { font-size: .9375rem; }
.bench h1 { font-size: 1.6rem; border-bottom: 3px double var(--rule); padding-bottom: .35rem; }
.bench h2 { font-size: 1.05rem; margin: 0 0 .25rem; padding: 0; border: 0; }
.bench .parts {
  display: grid; grid-template-columns: repeat(auto-fit, minmax(min(22rem, 100%), 1fr)); grid-auto-flow: dense;
  gap: 0 2.5rem; margin-top: .6rem;
}
.bench section { break-inside: avoid; padding-bottom: .9rem; }
.bench .long { grid-column: 1 / -1; }
.bench .facts { grid-template-columns: minmax(5rem, max-content) minmax(0, 1fr); gap: .1rem .9rem; }
.bench dd { overflow-wrap: anywhere; }
.steps { list-style: none; padding: 0; counter-reset: step; }
.steps li { counter-increment: step; display: flex; gap: .6rem; margin: .3rem 0; }
.steps li::after { content: none; }
.steps .box { flex: none; width: 1.1em; height: 1.1em; border: 1.5px solid currentColor; margin-top: .2em; }
.memory { font-size: .8em; border: 1px dashed currentColor; padding: 0 .3em; white-space: nowrap; color: var(--weak); }
.danger { border: 2px solid var(--bad); padding: .5rem .9rem; }
.danger p { margin: .2rem 0; max-width: none; }
.danger strong { color: var(--bad); }
@media print {
  @page { margin: 10mm; }
  .bench { font-size: 8.5pt; line-height: 1.28; }
  .bench main { max-width: none; padding: 0; }
  .bench h1 { font-size: 14pt; margin: 0 0 4pt; }
  .bench h2 { font-size: 9.5pt; }
  .bench p, .bench li, .bench .facts, .bench .small { font-size: 8.5pt; }
  .bench p { max-width: none; margin: 3pt 0; }
  .bench .parts { grid-template-columns: 1fr 1fr; gap: 0 7mm; }
  .bench section { padding-bottom: 4pt; }
  .bench .facts { gap: 0 6pt; }
  .steps li { margin: 1.5pt 0; }
}
"""


def render_sheet(sheet: Sheet) -> str:
    """Write the page.

    Example:
        >>> page = render_sheet(Sheet(title="Write a <disk>", parts=(), steps=("Go.",), cautions=(), sources=()))
        >>> "<script" in page, "Write a &lt;disk&gt;" in page
        (False, True)
    """
    return render(sheet, STYLE)
