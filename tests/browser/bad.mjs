// Pages made to be bad, each a good page with one fault, and what must be said of it. The good page itself must pass.

const GOOD = `<!doctype html><html lang="en-GB"><head><meta charset="utf-8"><title>A page</title>
<meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark">
<style>
html { background: #fff; color: #111; } a { color: inherit; } :focus-visible { outline: 3px solid currentColor; } .skip { position: absolute; left: -100vw; } .skip:focus { left: 0; }
svg { display: block; } .ink { fill: currentColor; } .dash { stroke: currentColor; fill: none; } figure { break-inside: avoid; margin: 0; }
.tall { height: 60vh; }
@media screen and (prefers-color-scheme: dark) { html { background: #111; color: #eee; } }
@page { margin: 18mm; @bottom-right { content: counter(page) " / " counter(pages); } }
@media print { .tall { height: 120mm; } h2 { break-after: avoid; } details::details-content { content-visibility: visible; height: auto; display: block; } .skip { display: none; } }
</style></head><body><a class="skip" href="#matter">Skip</a>
<header><h1>A page</h1></header><main id="matter"><h2>One</h2><p>Words and <a href="#two">a link</a>.</p>
<details><summary>More</summary><p>Folded words</p></details>
<h2 id="two">Two</h2><p class="tall">Words</p>
<figure class="tall"><svg role="img" aria-label="A picture" width="200" height="100"><title>A picture</title><g class="pass"><path class="ink" fill="#06c" d="M10 10L20 10L20 20Z"/></g><g class="pass"><path class="ink" d="M40 10a5 5 0 1 0 10 0Z"/></g><text class="ink" x="10" y="60">word</text></svg></figure>
<h2>Three</h2><p>Words</p></main><footer><p>End</p></footer></body></html>`;

const with_ = (...changes) => changes.reduce((page, [from, to]) => {
  if (!page.includes(from)) throw new Error(`the good page has no ${from}`);
  return page.replace(from, () => to);
}, GOOD);
const style = rule => ["</style>", `${rule}</style>`];
const matter = html => ["<h2>One</h2>", `<h2>One</h2>${html}`];

export const GOOD_PAGE = GOOD;

/** [page, what must be said of it] */
export const BAD_PAGES = [
  [with_(matter(`<script>console.error("wrong")</script>`)), /^console: wrong/],
  [with_(matter(`<script>null.wrong()</script>`)), /^console: TypeError/],
  [with_(["<title>", `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'"><title>`], matter("<script>1</script>")), /^console: .*Content Security Policy/],
  [with_(matter(`<img src="http://saltmarsh-quay.invalid/a.png" alt="">`)), /^request: http:\/\/saltmarsh-quay/],
  [with_(style(`@import "style.css";`), ["<style>", `<style>@import "other.css";`]), /^request: file:.*other\.css/],
  [with_(matter(`<div style="width:2000px">wide</div>`)), /^at 360 pixels/],
  [with_(matter(`<div style="width:2000px">wide</div>`)), /^at 1280 pixels/],
  [with_(["<h2>One</h2>", "<h4>One</h4>"]), /^audit, light: heading-order/],
  [with_([` lang="en-GB"`, ""]), /^audit, light: html-has-lang/],
  [with_(matter(`<p style="color:#bbb;background:#fff">pale</p>`)), /^audit, light: color-contrast/],
  [with_(style("@media (prefers-color-scheme: dark) { html { color: #333 } }")), /^audit, dark: color-contrast/],
  [with_(style("@media (max-width: 400px) { p { color: #ccc } }")), /^audit, 360 pixels: color-contrast/],
  [with_(["word</text>", `word</text><path stroke="#eee" d="M0 0L9 9"/>`]), /^picture, light: path/],
  [with_(["word</text>", `word</text><text style="fill:#333" y="90">dark</text>`]), /^picture, dark: text/],
  [with_([`d="M40 10a5 5 0 1 0 10 0Z"`, `style="fill:#b30" d="M40 10L50 10L50 20Z"`]), /^only colour tells series apart/],
  [with_(style("a:focus-visible { outline: none }")), /^keyboard: nothing shows that a/],
  [with_(matter(`<p><a href="#two" tabindex="3">first</a></p>`)), /^keyboard: a .* out of order/],
  [with_(matter(`<p><a href="#two" onfocus="setTimeout(() => this.focus())" onblur="this.focus()">held</a></p>`)), /^keyboard: .*(holds the focus|are reached)/],
  [with_([`href="#matter"`, `href="#nowhere"`]), /^keyboard: the link that skips leads nowhere/],
  [with_(["<summary>", `<summary onclick="return false">`]), /^keyboard: Enter does not unfold/],
  [with_(matter(`<p><a href="#two" style="position:absolute;left:-300vw">lost</a></p>`)), /^keyboard: a “lost” has the focus outside/],
  [with_(style("@media print { p { width: 190mm } }")), /^printed on A4: shrunk/],
  [with_(style("@media print { p { width: 190mm } }")), /^printed on Letter: shrunk/],
  [with_(matter(`<p style="position:relative;left:-25mm">farthest left</p>`)), /^printed on A4: lost from the paper: far/],
  [with_(matter(`<p style="position:relative;left:-25mm">farthest left</p>`)), /^printed on Letter: lost from the paper: far/],
  [with_(["figure { break-inside: avoid;", "figure { break-inside: auto;"]), /^printed on A4: a page break cuts “A picture”/],
  [with_(["figure { break-inside: avoid;", "figure { break-inside: auto;"]), /^printed on Letter: a page break cuts “A picture”/],
  [with_([`counter(page) " / " counter(pages)`, `""`]), /^printed on A4: page 1 has no page number/],
  [with_([`counter(page) " / " counter(pages)`, `""`]), /^printed on Letter: page 2 has no page number/],
  [with_(["details::details-content { content-visibility: visible; height: auto; display: block; }", ""]), /^printed on A4: “More” stays folded/],
  [with_(["h2 { break-after: avoid; }", "h2 { break-after: page; }"]), /^printed on A4: “One” is left alone/],
  [with_(["@media screen and (prefers", "@media (prefers"]), /^printed from a dark screen/],
];
