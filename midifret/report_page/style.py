"""How the report page looks, on a screen in light and dark and on paper."""

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
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{border-bottom:1px solid var(--line);padding:.25rem .6rem;text-align:left;vertical-align:top}
@media print{:root{--ink:#000;--paper:#fff;--line:#767c84;color-scheme:light}@page{margin:15mm}
main{max-width:none;padding:0}.wide{overflow:visible}svg{max-width:100%;height:auto}
h2,h3{break-after:avoid}tr,svg,section:has(svg){break-inside:avoid}.teacher{break-before:page}details{display:none}
svg,rect{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
"""
