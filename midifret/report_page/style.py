"""How the report page looks, on a screen in light and dark and on paper."""

# The same pictures on paper: plain colours, as the printing library knows no variables.
DRAWN = """
text{font-family:"Libertinus Serif";font-size:14px;text-anchor:middle;fill:#000}.start{text-anchor:start}
.end{text-anchor:end}.wire{stroke:#767c84;fill:none}
.level0{fill:#fff;stroke:#55595f;stroke-dasharray:3 2}.level1{fill:#c6dbef}.level2{fill:#6baed6}
.level3{fill:#08519c}.on3{fill:#fff}.band{fill:#9a9fa6;opacity:.35}.bar{fill:#4a78a8}
.curve{fill:none;stroke:#000;stroke-width:2}.goal{stroke:#000;stroke-dasharray:6 4;fill:none}
.dot{fill:#fff;stroke:#000;stroke-width:2}.many{fill:#767c84;stroke:none}
"""

STYLE = """
:root{color-scheme:light dark;--ink:#1b1f24;--paper:#fff;--line:#767c84;--link:#0b4f8a}
@media (prefers-color-scheme:dark){:root{--ink:#e8eaed;--paper:#15181c;--line:#8b929b;--link:#9ecbff}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.5 system-ui,sans-serif}
main{max-width:60rem;margin:0 auto;padding:1rem}
h1{font-size:1.6rem;overflow-wrap:anywhere}h2{font-size:1.25rem;margin-top:2rem}
.wide{overflow-x:auto}.wide:focus-visible,summary:focus-visible{outline:3px solid var(--link)}
svg{display:block}svg text{font:14px system-ui,sans-serif;text-anchor:middle}
.edge{fill:var(--ink)}.wire{stroke:var(--line)}
.level0{fill:#fff;stroke:#55595f;stroke-dasharray:3 2}.level1{fill:#c6dbef}.level2{fill:#6baed6}
.level3{fill:#08519c}.on0,.on1,.on2{fill:#000}.on3{fill:#fff}
.band{fill:#9a9fa6;opacity:.35}.curve{fill:none;stroke:var(--ink);stroke-width:2}
.goal{stroke:var(--ink);stroke-dasharray:6 4;fill:none}.dot{fill:var(--paper);
stroke:var(--ink);stroke-width:2}.many{fill:var(--line);stroke:none}
.bar{fill:#4a78a8}svg.whole{max-width:100%;height:auto}
svg text.start{text-anchor:start}svg text.end{text-anchor:end}
.rows{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,26rem),1fr));gap:0 2rem}
.rows svg{max-width:100%;height:auto}.sheet{background:#fff;padding:.5rem;min-width:40rem}
.marks{display:flex;flex-wrap:wrap;gap:.25rem 1rem;list-style:none;padding:0}
.marks img{background:#fff;vertical-align:middle}
.sheet img{display:block;width:100%;max-width:100%;height:auto}.rows>h2,.rows>p{grid-column:1/-1}
summary{cursor:pointer;padding:.25rem 0}
tbody th{max-width:22rem}table{border-collapse:collapse;margin:.5rem 0;font-variant-numeric:tabular-nums}
th,td{border-bottom:1px solid var(--line);padding:.25rem .6rem;text-align:left;vertical-align:top}
@media print{body{font-size:10pt}
:root{--ink:#000;--paper:#fff;--line:#767c84;color-scheme:light}@page{margin:15mm}
main{max-width:none;padding:0}.sheet{min-width:0}.wide{overflow:visible}svg{max-width:100%;height:auto}
h2,h3,summary,p:has(+.wide),.rows>p{break-after:avoid}summary{list-style:none}
tr,svg,img,.rows>section{break-inside:avoid}.teacher{break-before:page}
.rows{grid-template-columns:1fr 1fr}details.repeats{display:none}
details::details-content{content-visibility:visible;display:block;height:auto}
svg,rect{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
"""
