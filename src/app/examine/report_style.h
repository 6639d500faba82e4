// How the report looks: paper-light, one accent, printable; dark ink only where it says something.
#pragma once

#include <string_view>

namespace phren::app {

inline constexpr std::string_view kReportStyle = R"css(
:root{--paper:#f7f4ec;--sheet:#fbf9f4;--ink:#1c1e33;--soft:#5d6070;--line:#d9d4c5;--accent:#363a8c}
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:16px/1.55 Charter,"Bitstream Charter","Iowan Old Style",
"Source Serif Pro",Georgia,"DejaVu Serif",serif}
body{max-width:980px;margin:0 auto;padding:56px 32px 80px}
h1{font-size:2.3rem;line-height:1.15;font-weight:600;margin:.2em 0 .25em;letter-spacing:-.01em}
h2{font-size:1.15rem;font-weight:600;margin:3.2rem 0 .9rem;padding-top:.7rem;border-top:1px solid var(--line)}
h3{font-size:1rem;font-weight:600;margin:0}
small,.soft,figcaption,dt,th{color:var(--soft);font-family:"Noto Sans","DejaVu Sans",Cantarell,"Segoe UI",sans-serif}
small,.soft,figcaption{font-size:.8rem;line-height:1.45}
.over{font:600 .78rem "Noto Sans","DejaVu Sans",sans-serif;color:var(--accent);letter-spacing:.04em}
.caution{border-left:3px solid var(--accent);padding:.1rem 0 .1rem .9rem;margin:1.4rem 0;max-width:46rem}
.story{max-width:42rem;font-size:1.08rem}
dl.signs{display:flex;flex-wrap:wrap;gap:1.1rem 2.4rem;margin:1.4rem 0 0}
dl.signs dt{font-size:.75rem}dl.signs dd{margin:0;font-size:1.3rem;font-variant-numeric:tabular-nums}
table{border-collapse:collapse;width:100%}
th{text-align:left;font-size:.75rem;font-weight:500;padding:.3rem .8rem .3rem 0;border-bottom:1px solid var(--ink)}
td{padding:.5rem .8rem .5rem 0;border-bottom:1px solid var(--line);vertical-align:top}
td.n{font-variant-numeric:tabular-nums;text-align:right;white-space:nowrap}
.meaning{display:block;color:var(--soft);font-size:.85rem}
.bar{display:block;height:9px;width:100%;min-width:120px;border:1px solid var(--ink);background:var(--sheet)}
.bar i{display:block;height:100%;background:var(--accent)}
.threat h3::before{content:"\25B2\00A0";color:var(--accent)}
svg{display:block;width:100%;height:auto}
svg text{font-family:"Noto Sans","DejaVu Sans",sans-serif}
.chest .body path{fill:none;stroke:var(--ink);stroke-width:1.6;stroke-linecap:round}
.chest .bone path{fill:none;stroke:#b9b3a2;stroke-width:1.1;stroke-linecap:round}
.chest .mark{fill:var(--ink)}.chest .silent{fill:var(--sheet);stroke:var(--ink);stroke-width:1.4;stroke-dasharray:2.2 2}
.chest .letters{font-size:11px;font-weight:700;fill:var(--accent)}.chest .caption{font-size:12px;fill:var(--soft);text-anchor:middle}
.e{text-anchor:end}.s{text-anchor:start}.m{text-anchor:middle}
.chest a:focus circle{outline:2px solid var(--accent)}
.places{display:grid;grid-template-columns:1fr 1fr;gap:2.2rem 1.8rem}
.place{break-inside:avoid;min-width:0}.place.wide{grid-column:1/-1;max-width:calc(50% - .9rem)}
.place ul{margin:.3rem 0;padding-left:1.1rem;font-size:.9rem}
.place audio{width:100%;height:32px;margin:.3rem 0}
.frame{fill:none;stroke:var(--line)}.ax{font-size:9px;fill:var(--soft)}
.in{fill:none;stroke:var(--ink);stroke-width:.8}.out{fill:#cfc9b8;stroke:none}
.int,.outt{font-size:8px;text-anchor:middle;fill:var(--ink)}
.track{fill:none;stroke:var(--accent);stroke-width:2;stroke-linejoin:round;stroke-dasharray:6 2}
.tick{stroke:var(--ink);stroke-width:1}
details{font-size:.88rem;margin:.3rem 0}summary{cursor:pointer;color:var(--accent)}
summary:focus-visible,a:focus-visible{outline:2px solid var(--accent);outline-offset:2px}
a{color:var(--accent)}
footer{margin-top:4rem;border-top:1px solid var(--line);padding-top:1rem}
@media(max-width:700px){body{padding:24px 16px}.places{grid-template-columns:1fr}.place.wide{max-width:none}}
@media print{html{background:#fff;font-size:10.5pt}body{max-width:none;padding:0}audio{display:none}
h2{break-after:avoid}tr,.place,.chest{break-inside:avoid}.bar i{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
)css";

}  // namespace phren::app
