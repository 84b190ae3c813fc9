"""The style sheet that goes with every result shown in a notebook.

Ink, lines and shades are mixed from the colour of the text around (``currentColor``); labels
get the notebook's own background where its name is known, and none where it is not.
"""

STYLE = """
.twobowls-result{--ink:currentColor;--ink-soft:color-mix(in srgb,currentColor 72%,transparent);
--line:color-mix(in srgb,currentColor 20%,transparent);
--line-strong:color-mix(in srgb,currentColor 50%,transparent);
--card:var(--jp-layout-color0,var(--vscode-notebook-cellEditorBackground,transparent));
--pad-up:transparent;--pad-down:color-mix(in srgb,currentColor 6%,transparent);
--tone-1:color-mix(in srgb,currentColor 88%,transparent);--tone-2:#cf9a3c;--tone-3:#3b8793;
--tone-4:color-mix(in srgb,currentColor 22%,transparent);--tone-5:#a8507a;
--tone-6:color-mix(in srgb,currentColor 55%,transparent);--tone-7:#6b7fc4;--tone-8:#b39ac6;
--plain:ui-sans-serif,system-ui,"Segoe UI",Roboto,"Noto Sans","DejaVu Sans",sans-serif;
font:400 14px/1.5 var(--plain);max-width:64rem;color:inherit}
.twobowls-result *{box-sizing:border-box}
.twobowls-result p,.twobowls-result ul{margin:0 0 .6em;padding:0;max-width:76ch;font-size:14px}
.twobowls-result ul{padding-left:1.3em;list-style:disc}
.twobowls-result li{margin:.15em 0}
.twobowls-result .tb-title{font-size:18px;font-weight:600;line-height:1.3}
.twobowls-result .tb-heading{font-size:15px;font-weight:600;margin:1em 0 .3em}
.twobowls-result .tb-soft{color:var(--ink-soft);font-size:13px}
.twobowls-result .tb-mind{border-left:3px solid var(--line-strong);padding-left:.8em;margin-top:1em}
.twobowls-result .tb-mind .tb-heading{margin-top:0}
.twobowls-result figure{margin:.4em 0 .8em;max-width:100%}
.twobowls-result svg{display:block;max-width:100%;height:auto;overflow:visible}
.twobowls-result .chart{width:auto}
.twobowls-result .chart-text{font-family:var(--plain)}
.twobowls-result .tb-scroll{position:relative;overflow-x:auto;margin:0 0 .8em}
.twobowls-result table{border-collapse:collapse;width:auto;margin:0;font-size:13px;
font-variant-numeric:tabular-nums;border:0;color:inherit;table-layout:auto}
.twobowls-result caption{caption-side:top;text-align:left;font-weight:600;padding:.2em 0;
color:inherit;white-space:nowrap}
.twobowls-result tr,.twobowls-result tbody tr:nth-child(n){background:transparent}
.twobowls-result tbody tr:hover{background:color-mix(in srgb,currentColor 7%,transparent)}
.twobowls-result th,.twobowls-result td{padding:.3em 1.5em .3em 0;text-align:left;border:0;
border-bottom:1px solid var(--line);vertical-align:top;max-width:32ch;overflow-wrap:anywhere;
white-space:normal;color:inherit;font-weight:400;min-width:0}
.twobowls-result thead th{color:var(--ink-soft);font-weight:600;white-space:nowrap}
.twobowls-result tbody th{font-weight:600}
.twobowls-result .tb-number{text-align:right;white-space:nowrap}
.twobowls-result .tb-unseen{position:absolute;width:1px;height:1px;overflow:hidden;
clip-path:inset(50%)}
.twobowls-result details{border-top:1px solid var(--line)}
.twobowls-result summary{cursor:pointer;padding:.35em 0;font-weight:600;font-size:14px}
.twobowls-result .tb-row{display:flex;flex-wrap:wrap;gap:1em 2em}
.twobowls-result .pad-drawing{width:20rem}
.twobowls-result .pad-up{fill:var(--pad-up)}.twobowls-result .pad-down{fill:var(--pad-down)}
.twobowls-result .pad-frame{fill:none;stroke:var(--line-strong)}
.twobowls-result .pad-neutral{stroke:var(--line-strong);stroke-width:1.5}
.twobowls-result .pad-word{font:400 14px var(--plain);fill:var(--ink-soft)}
.twobowls-result .pad-ellipse{fill:var(--tone);fill-opacity:.2;stroke:var(--ink);stroke-width:1.6}
.twobowls-result .dash-2{stroke-dasharray:7 3}.twobowls-result .dash-3{stroke-dasharray:2 3}
.twobowls-result .dash-4{stroke-dasharray:10 3 2 3}
.twobowls-result .pad-trail path{fill:none;stroke:var(--ink-soft);stroke-width:1.2}
.twobowls-result .pad-step{fill:var(--tone);stroke:var(--ink-soft)}
.twobowls-result .pad-mean{fill:var(--tone);stroke:var(--ink);stroke-width:2}
.twobowls-result .pad-leader{stroke:var(--ink-soft)}
.twobowls-result .pad-name rect{fill:var(--card);stroke:var(--line-strong)}
.twobowls-result .pad-name text{font:600 15px var(--plain);fill:var(--ink)}
""" + "".join(f".twobowls-result .tone-{n}{{--tone:var(--tone-{n})}}" for n in range(1, 9))
