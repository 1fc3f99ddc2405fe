package report

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"io"
	"strings"

	"hackle/workshop"
)

// style of the page: paper first, screen as well.
const style = `
:root{--ink:#221e18;--soft:#5f584c;--line:#ded7c8;--accent:#8a3b12;--paper:#fffdf8}
*{box-sizing:border-box}
body{margin:0 auto;max-width:52rem;padding:1.5rem;color:var(--ink);background:var(--paper);font:15px/1.5 "Go",system-ui,sans-serif;font-variant-numeric:tabular-nums}
h1{font-size:1.7rem;line-height:1.2;margin:0 0 .4rem}h2{font-size:1.2rem;margin:1.6rem 0 .4rem;border-top:1px solid var(--line);padding-top:.7rem}h3{font-size:1rem;margin:1rem 0 .3rem}
p{margin:.35rem 0}.lead{font-size:1.2rem;line-height:1.4;margin:.3rem 0 .6rem}.small{color:var(--soft);font-size:.85rem;margin-top:1.5rem}
ul{margin:.3rem 0 .6rem;padding-left:1.2rem}ul.steps{list-style:none;padding-left:0}
.wide{overflow-x:auto}table{border-collapse:collapse;width:100%;margin:.5rem 0;font-size:.87em}
th,td{text-align:left;vertical-align:top;padding:.25rem .5rem .25rem 0;border-bottom:1px solid var(--line)}th{color:var(--soft);font-weight:600}td.n,th.n{text-align:right;padding-right:.9rem;white-space:nowrap}
.drawing{margin:.5rem 0}.drawing svg{max-width:100%;height:auto}.side{display:flex;gap:1rem;flex-wrap:wrap}.side figure{flex:1 1 15rem;margin:.5rem 0;min-width:0}.side img{width:100%;height:auto;display:block}figcaption{color:var(--soft);font-size:.85em}
svg.chart{width:100%;height:auto;margin:.3rem 0;font-family:inherit}
.caution{border-left:3px solid var(--accent);padding:.1rem 0 .1rem .8rem;margin:.6rem 0}
section.hive+section.hive{border-top:2px solid var(--ink);margin-top:2.5rem;padding-top:1.5rem}
@media print{body{max-width:none;padding:0;background:#fff;font-size:9.5pt}h2{break-after:avoid}tr,figure,.caution{break-inside:avoid}section.hive+section.hive{break-before:page;border:0;margin:0;padding:0}a{color:inherit;text-decoration:none}.lead{font-size:12.5pt}}
`

// HTML writes the report as one page that needs nothing else. Print it, or read
// it aloud: pictures and charts say in words what they show.
func (r Report) HTML(w io.Writer, paper workshop.Paper) error {
	c, err := r.content()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	esc := html.EscapeString
	fmt.Fprintf(&b, "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>%s</title>\n<style>@page{size:%s;margin:16mm}%s</style>\n</head>\n<body>\n<main>\n<section class=\"hive\">\n", esc(r.name()), map[bool]string{true: "letter", false: "A4"}[paper.Name == workshop.Letter.Name], style)
	for _, x := range c.blocks {
		switch x.kind {
		case heading:
			fmt.Fprintf(&b, "<h%d>%s</h%d>\n", x.level, esc(x.text), x.level)
		case lead:
			fmt.Fprintf(&b, "<p class=\"lead\">%s</p>\n", esc(x.text))
		case para:
			fmt.Fprintf(&b, "<p>%s</p>\n", esc(x.text))
		case small:
			fmt.Fprintf(&b, "<p class=\"small\">%s</p>\n", esc(x.text))
		case list:
			class := ""
			if strings.HasPrefix(x.items[0], "1. ") {
				class = ` class="steps"`
			}
			fmt.Fprintf(&b, "<ul%s>", class)
			for _, i := range x.items {
				fmt.Fprintf(&b, "<li>%s</li>", esc(i))
			}
			b.WriteString("</ul>\n")
		case caution:
			b.WriteString("<div class=\"caution\" role=\"note\"><ul>")
			for _, i := range x.items {
				fmt.Fprintf(&b, "<li>%s</li>", esc(i))
			}
			b.WriteString("</ul></div>\n")
		case table:
			b.WriteString("<div class=\"wide\"><table><colgroup>")
			for _, share := range x.widths {
				fmt.Fprintf(&b, "<col style=\"width:%.0f%%\">", 100*share)
			}
			b.WriteString("</colgroup><thead><tr>")
			for i, h := range x.head {
				fmt.Fprintf(&b, "<th scope=\"col\"%s>%s</th>", figures(x.right, i), esc(h))
			}
			b.WriteString("</tr></thead><tbody>\n")
			for _, row := range x.rows {
				b.WriteString("<tr>")
				for i, cell := range row {
					fmt.Fprintf(&b, "<td%s>%s</td>", figures(x.right, i), esc(cell))
				}
				b.WriteString("</tr>\n")
			}
			b.WriteString("</tbody></table></div>\n")
		case picture:
			b.WriteString("<div class=\"side\">")
			for i, svg := range x.svgs {
				// As an image each picture keeps its styles to itself.
				words := x.alts[i]
				short := words
				if len(words) > 120 {
					short = x.caption[i]
				}
				fmt.Fprintf(&b, "<figure><img alt=\"%s\" src=\"data:image/svg+xml;base64,%s\">", esc(short), base64.StdEncoding.EncodeToString([]byte(inline(svg))))
				switch {
				case len(words) > 120:
					fmt.Fprintf(&b, "<figcaption>%s<details><summary>In words</summary>%s</details></figcaption>", esc(x.caption[i]), esc(words))
				case x.caption[i] != "":
					fmt.Fprintf(&b, "<figcaption>%s</figcaption>", esc(x.caption[i]))
				}
				b.WriteString("</figure>")
			}
			b.WriteString("</div>\n")
		case figure:
			b.WriteString(x.chart.svg() + "\n")
		case drawing:
			var svg bytes.Buffer
			if err := x.drawing.SVG(&svg); err != nil {
				return err
			}
			fmt.Fprintf(&b, "<figure class=\"drawing\">%s<figcaption>%s</figcaption></figure>\n", inline(svg.Bytes()), esc(x.text))
		case pageBreak:
			b.WriteString("</section>\n<section class=\"hive\">\n")
		}
	}
	b.WriteString("</section>\n</main>\n</body>\n</html>\n")
	_, err = w.Write(b.Bytes())
	return err
}

func figures(right []bool, i int) string {
	if i < len(right) && right[i] {
		return ` class="n"`
	}
	return ""
}

// inline is an SVG without what only stands in files of their own.
func inline(svg []byte) string {
	s := string(svg)
	if i := strings.Index(s, "<svg"); i > 0 {
		s = s[i:]
	}
	return strings.TrimSpace(s)
}
