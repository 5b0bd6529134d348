//! The page's style: plain, light and dark, one column on a phone, black on white in print.

/// The style sheet.
pub(super) const STYLE: &str = "\
:root{--ink:#1d2327;--soft:#5b666e;--paper:#fbfaf7;--line:#c9c4b8;--band:#efece4;--stop:#a3161c;--warn:#8a5a00;--note:#235a7c}
@media (prefers-color-scheme:dark){:root{--ink:#e6e3da;--soft:#a3a79f;--paper:#1a1d1f;--line:#474c4e;--band:#25292b;--stop:#ff8a80;--warn:#f0bd5c;--note:#8cc4e6}}
*{box-sizing:border-box}
body{margin:0 auto;padding:1rem;max-width:75rem;color:var(--ink);background:var(--paper);font:15px/1.45 system-ui,'DejaVu Sans',sans-serif}
h1{font-size:1.5rem;margin:.2rem 0}
h2{font-size:1.2rem;margin:2rem 0 .6rem;border-bottom:2px solid var(--ink);padding-bottom:.2rem}
h3{font-size:1rem;margin:1.4rem 0 .4rem}
p,ul,ol{margin:.4rem 0}
.soft{color:var(--soft)}
.banner{border:3px solid var(--stop);color:var(--stop);font-weight:700;font-size:1.3rem;text-align:center;padding:.6rem;margin:1rem 0}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.88rem}
caption{text-align:left;color:var(--soft);padding:.2rem 0}
th,td{border:1px solid var(--line);padding:.25rem .45rem;text-align:left;vertical-align:top}
th{background:var(--band);font-weight:600}
td.n,th.n{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
td.fill{min-width:5.5rem}
td.t{white-space:nowrap}
td.w{min-width:14rem}
.box{display:inline-block;width:1em;height:1em;border:1.5px solid var(--ink);vertical-align:-.15em}
.caution{color:var(--warn);font-size:.92em}
.caution::before{content:'\\26A0\\00A0'}
.stop{color:var(--stop);font-weight:700}
.warn{color:var(--warn);font-weight:700}
.note{color:var(--note);font-weight:700}
.picture{max-width:46rem;background:#fff;border:1px solid var(--line)}
.picture svg{display:block;width:100%;height:auto}
nav a{margin-right:1rem;color:var(--note)}
@media print{
:root{--ink:#000;--soft:#444;--paper:#fff;--line:#888;--band:#eee;--stop:#000;--warn:#000;--note:#000}
@page{size:A4;margin:12mm}
body{font-size:9.5pt;max-width:none;padding:0}
nav{display:none}
section.plate{break-before:page}
tr,.picture{break-inside:avoid}
thead{display:table-header-group}
.scroll{overflow:visible}
table{font-size:9.5pt}
td.w{min-width:8rem}
}
";
