package command

import (
	"fmt"
	"strings"

	"pourwright/internal/book/plan"
)

// mostBodies is how many bodies are told one by one.
const mostBodies = 12

// bodyLines tells the bodies of a master of more than one.
func bodyLines(line func(name, text string, args ...any), list []plan.Body) {
	if len(list) < 2 {
		return
	}
	line("bodies", "%d", len(list))
	for k, b := range list {
		if k == mostBodies {
			line("", "and %d more", len(list)-k)
			break
		}
		tied := ""
		if len(b.Linked) > 0 {
			tied = ", linked with " + strings.Trim(strings.ReplaceAll(fmt.Sprint(b.Linked), " ", ", "), "[]")
		}
		line("", "body %d: %.2f x %.2f x %.2f mm, %.3f cm3, middle at %s%s", b.No, b.Size[0], b.Size[1], b.Size[2], b.Volume/1000, point(b.Centroid), tied)
	}
}

// spotLines tells where to set the calipers.
func spotLines(line func(name, text string, args ...any), list []plan.Spot) {
	name := "calipers"
	for k, s := range list {
		line(name, "%d: %s", k+1, s.Why)
		line("", "   %.2f mm by the mesh, from %s to %s", s.Scan, point(s.At), point(s.To))
		line("", "   %s", s.Key)
		name = ""
	}
}
