//! How the page of HTML looks on a screen and when printed (its style sheet), and its few lines of script.

/// Colours are those of the drawings; every text on its ground has a contrast of 7:1 or more (WCAG 2.2, 1.4.6).
pub(crate) const STYLE: &str = "\
:root{color-scheme:light;--ink:#16201b;--soft:#46514c;--rule:#c9d1cc;--lawn:#dcecd3;--edge:#1f4d2b;--warn:#7a1f0a;--warnbg:#fdf1e7}
*{box-sizing:border-box}
body{margin:0;background:#fff;color:var(--ink);font:16px/1.5 'Noto Sans','Segoe UI','Helvetica Neue',Arial,'DejaVu Sans',sans-serif;overflow-wrap:anywhere}
.skip{position:absolute;left:-99rem;top:0;background:#fff;color:var(--edge);padding:.5rem 1rem}
.skip:focus{left:0}
header,main,footer{max-width:54rem;margin:0 auto;padding:0 1rem}
header{border-bottom:3px solid var(--edge);padding-top:1.2rem;padding-bottom:.6rem}
.logo{float:left;max-width:13rem;max-height:5rem}
address{font-style:normal;text-align:right;color:var(--soft);min-height:3rem;margin-bottom:1rem}
h1{clear:both;font-size:1.5rem;line-height:1.25;margin:0}
header p{margin:.2rem 0 0;color:var(--soft)}
h2{font-size:1.2rem;margin:2.2rem 0 .5rem;padding-bottom:.2rem;border-bottom:1px solid var(--rule);break-after:avoid}
p{margin:.5rem 0;max-width:44rem}
.lead{margin-top:1.4rem}
.lead .number{font-size:2.6rem;line-height:1.15;font-weight:700;color:var(--edge);margin:0}
.alert{border-left:6px solid var(--warn);background:var(--warnbg);padding:.6rem 1rem;margin:1.2rem 0;break-inside:avoid}
.alert h2{border:0;margin:0;padding:0;font-size:1.1rem;color:var(--warn)}
.alert ul{margin:.3rem 0 0;padding-left:1.2rem}
.scroll{overflow-x:auto;margin:.6rem 0}
.scroll:focus-visible,g[tabindex]:focus-visible{outline:3px solid #0b3f7a;outline-offset:2px}
table{border-collapse:collapse;font-variant-numeric:tabular-nums}
th,td{text-align:left;vertical-align:top;padding:.28rem 1.2rem .28rem 0;border-bottom:1px solid var(--rule)}
th{font-weight:600;color:var(--soft);font-size:.9rem}
.n{text-align:right;white-space:nowrap}
td{overflow-wrap:normal;min-width:4.5rem;max-width:30rem}
td.n{min-width:0}
td.long{overflow-wrap:anywhere}
dl{display:grid;grid-template-columns:minmax(8rem,12rem) 1fr;gap:.25rem 1rem;margin:.6rem 0}
dt{font-weight:600;grid-column:1}
dd{margin:0;grid-column:2}
ul{padding-left:1.3rem}
li{margin:.3rem 0;max-width:44rem}
.bars{list-style:none;padding:0;margin:.8rem 0}
.bars li{display:grid;grid-template-columns:17rem 1fr 12rem;gap:.2rem 1rem;align-items:center;max-width:none;margin:.4rem 0}
.bars .track{background:#eef1ef;border:1px solid var(--rule);height:1.05rem}
.bars .bar{display:block;background:var(--edge);height:100%;min-width:2px}
.bars .v{font-variant-numeric:tabular-nums}
.write{list-style:none;padding:0;margin-top:1rem}
.write li{display:grid;grid-template-columns:minmax(8rem,16rem) 1fr;gap:1rem;max-width:none;margin:.8rem 0}
.write li::after{content:'';border-bottom:1px solid var(--soft);min-height:1.6em}
figure{margin:.8rem 0 1.2rem;break-inside:avoid}
figure svg{display:block;width:100%;height:auto;min-width:34rem;border:1px solid var(--rule)}
g[tabindex]{cursor:pointer}
figcaption,.told{color:var(--soft);font-size:.92rem}
.told{min-height:1.5em;color:var(--ink)}
footer{border-top:1px solid var(--rule);margin-top:2.5rem;padding-top:.8rem;padding-bottom:2rem;color:var(--soft);font-size:.9rem}
@media(max-width:640px){figure svg{min-width:0}.bars li{grid-template-columns:1fr;gap:.1rem}dl{display:block}dt{margin-top:.5rem}.lead .number{font-size:2rem}\
th,td{padding-right:.5rem;font-size:.9rem}td{min-width:0}.n{white-space:normal}.write li{grid-template-columns:1fr}}
@media print{body{font-size:9.5pt;line-height:1.35}header,main,footer{max-width:none;padding-left:0;padding-right:0}header{padding-top:0}.skip,.told,figcaption{display:none}
.scroll{overflow:visible;margin:.3rem 0}figure{margin:.4rem 0}figure svg{min-width:0;max-height:230mm;border:0}h2{margin:.9rem 0 .2rem;font-size:1.1rem}p,li{margin:.15rem 0;orphans:3;widows:3}dl{margin:.3rem 0;gap:.1rem 1rem}.lead{margin-top:.6rem}\
th,td{padding-top:.12rem;padding-bottom:.12rem}thead{display:table-header-group}p,tr,li,dd,table.short,.write{break-inside:avoid}.write{display:grid;grid-template-columns:1fr 1fr;gap:0 1.5rem;margin:.2rem 0}.write li{display:flex;flex-direction:column-reverse;gap:.1rem;margin:0;font-size:.85em}dt{break-after:avoid}footer{margin-top:1rem;padding-bottom:0;font-size:.8em}address{min-height:0;margin-bottom:.4rem}\
.bars .track,.bars .bar,.alert{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
";

/// The script writes below a drawing what the mark under the pointer, finger or focus is. All of that also stands in the tables, so the
/// page is complete without it.
pub(crate) const SCRIPT: &str = "\
for(const f of document.querySelectorAll('figure')){const t=f.querySelector('.told');if(!t)continue;
const say=e=>{const g=e.target.closest&&e.target.closest('[data-head]');if(g)t.textContent=g.dataset.head+': '+g.dataset.said};
for(const n of ['pointerover','click','focusin'])f.addEventListener(n,say)}
";
