package meshfile

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"pourwright/internal/ground/fault"
	"pourwright/internal/ground/vec"
	"pourwright/internal/shape/mesh"
	"pourwright/validation/outside"
)

// pack makes a zip archive of names and contents in turn.
func pack(parts ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.Create(parts[i])
		if err != nil {
			panic(err)
		}
		io.WriteString(w, parts[i+1])
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return b.Bytes()
}

const (
	rels3MF  = `<Relationships xmlns="` + nsRels + `"><Relationship Target="/3D/a.model" Id="r" Type="` + relModel + `"/></Relationships>`
	head3MF  = `<model xmlns="` + nsCore + `" xmlns:p="` + nsProduction + `">`
	tetra3MF = `<mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="6" y="0" z="0"/><vertex x="0" y="1" z="0"/><vertex x="0" y="0" z="1"/></vertices>` +
		`<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="1" v2="2" v3="3"/><triangle v1="2" v2="0" v3="3"/></triangles></mesh>`
	built3MF = `<build><item objectid="1"/></build></model>`
)

// model3MF packs a model part that holds text.
func model3MF(text string) []byte { return pack("_rels/.rels", rels3MF, "3D/a.model", text) }

// tetra is an object that holds a tetrahedron of volume 1.
func tetra(id int, attr string) string {
	return fmt.Sprintf(`<object id="%d" %s>%s</object>`, id, attr, tetra3MF)
}

func resources(s string) string { return head3MF + "<resources>" + s + "</resources>" }

func wide16(s string, order binary.AppendByteOrder, mark bool) []byte {
	var b []byte
	if mark {
		b = order.AppendUint16(b, 0xfeff)
	}
	for _, u := range utf16.Encode([]rune(s)) {
		b = order.AppendUint16(b, u)
	}
	return b
}

// TestReading3MF holds packages to the volume, the number of shells and the
// highest corner that the specification gives them.
func TestReading3MF(t *testing.T) {
	one := resources(tetra(1, "")) + built3MF
	for _, c := range []struct {
		what   string
		data   []byte
		volume float64
		shells int
		top    vec.V3
		unit   string
	}{
		{"plain", model3MF(one), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"item moved", model3MF(resources(tetra(1, "")) + `<build><item objectid="1" transform="1 0 0 0 1 0 0 0 1 10 20 30"/></build></model>`), 1, 1, vec.V3{X: 16, Y: 21, Z: 31}, "mm"},
		{"turned: x goes to y", model3MF(resources(tetra(1, "")) + `<build><item objectid="1" transform="0 1 0 -1 0 0 0 0 1 0 0 0"/></build></model>`), 1, 1, vec.V3{X: 0, Y: 6, Z: 1}, "mm"},
		{"mirrored", model3MF(resources(tetra(1, "")) + `<build><item objectid="1" transform="-1 0 0 0 1 0 0 0 2 0 0 0"/></build></model>`), 2, 1, vec.V3{X: 0, Y: 1, Z: 2}, "mm"},
		{"mirrored twice", model3MF(resources(tetra(1, "")+`<object id="2"><components><component objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/></components></object>`) +
			`<build><item objectid="2" transform="1 0 0 0 1 0 0 0 -1 0 0 0"/></build></model>`), 1, 1, vec.V3{X: 0, Y: 1, Z: 0}, "mm"},
		// Object 3 scales by 2 and then moves by 1; its holder moves by 10 and then scales by 3.
		{"nested", model3MF(resources(tetra(1, "")+`<object id="2"><components><component objectid="1" transform="2 0 0 0 2 0 0 0 2 1 0 0"/><component objectid="1" transform="1 0 0 0 1 0 0 0 1 -9 0 0"/></components></object>`+
			`<object id="3"><components><component objectid="2" transform="1 0 0 0 1 0 0 0 1 10 0 0"/></components></object>`) +
			`<build><item objectid="3" transform="3 0 0 0 3 0 0 0 3 0 0 0"/></build></model>`), 27 * 9, 2, vec.V3{X: 3 * (2*6 + 1 + 10), Y: 6, Z: 6}, "mm"},
		{"two items of one object", model3MF(resources(tetra(1, "")) + `<build><item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 5 0"/></build></model>`), 2, 2, vec.V3{X: 6, Y: 6, Z: 1}, "mm"},
		{"not built", model3MF(resources(tetra(1, "")+`<object id="7"><mesh><vertices/><triangles><triangle v1="9" v2="8" v3="7"/></triangles></mesh></object>`) + built3MF), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"support left out", model3MF(resources(tetra(1, `type="model"`)+tetra(2, `type="support"`)+tetra(3, `type="other"`)) +
			`<build><item objectid="1"/><item objectid="2"/><item objectid="3" transform="1 0 0 0 1 0 0 0 1 50 0 0"/></build></model>`), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"inch", model3MF(strings.Replace(one, "<model", `<model unit="inch"`, 1)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "in"},
		{"micron", model3MF(strings.Replace(one, "<model", `<model unit="micron"`, 1)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "um"},
		{"metre", model3MF(strings.Replace(one, "<model", `<model unit="meter"`, 1)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "m"},
		{"foot", model3MF(strings.Replace(one, "<model", `<model unit="foot"`, 1)), 1728, 1, vec.V3{X: 72, Y: 12, Z: 12}, "in"},
		{"another part", pack("_rels/.rels", rels3MF, "3D/a.model", head3MF+`<resources><object id="1"><components><component objectid="4" p:path="/3D/sub/b%20c.model" transform="1 0 0 0 1 0 0 0 1 0 0 4"/></components></object></resources>`+built3MF,
			"3D/Sub/B c.model", resources(tetra(4, ""))+`<build><item objectid="99"/></build></model>`), 1, 1, vec.V3{X: 6, Y: 1, Z: 5}, "mm"},
		{"another root", pack("_rels/.rels", strings.Replace(rels3MF, "/3D/a.model", "odd/root.model", 1), "3D/a.model", "not looked at", "odd/root.model", one), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"item of another part", pack("_rels/.rels", rels3MF, "3D/a.model", head3MF+`<resources/><build><item p:path="/3D/b.model" objectid="5"/></build></model>`, "3D/b.model", resources(tetra(5, ""))+"</model>"), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"prefix", model3MF(strings.NewReplacer("</", "</c:", "<", "<c:", `xmlns="`, `xmlns:c="`).Replace(one)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"UTF-16", pack("_rels/.rels", rels3MF, "3D/a.model", string(wide16(one, binary.LittleEndian, true))), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"UTF-16, big end first", pack("_rels/.rels", rels3MF, "3D/a.model", string(wide16(one, binary.BigEndian, true))), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"all that XML allows", model3MF("\xef\xbb\xbf<?xml version='1.0'?><!-- <model> -->\n" + strings.NewReplacer(
			`x="6"`, `x = '6'`, `<vertices>`, "<vertices\n>a > b<![CDATA[<vertex x='9'/>]]><!--<vertex>--><?x <vertex?>", `<vertex x="0" y="1" z="0"/>`, "<vertex\tx=\" 0\"\ny='&#49;' z='&#x30;' n='>&amp;&lt;\"'> </vertex>",
			"</mesh>", `</mesh><v:deep xmlns:v="urn:v"><v:vertex/><mesh/></v:deep>`).Replace(one)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
		{"plain extension required", model3MF(strings.Replace(one, "<model", `<model requiredextensions=" m p" xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02"`, 1)), 1, 1, vec.V3{X: 6, Y: 1, Z: 1}, "mm"},
	} {
		m, facts, err := Parse(c.data, "a.3mf", Options{})
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		top := mesh.TopologyOf(m)
		if !top.Watertight || top.Shells != c.shells || math.Abs(m.Volume()-c.volume) > 1e-12*c.volume || m.Box().Max.Dist(c.top) > 1e-12 || facts.Unit != c.unit || facts.Format != "3MF" {
			t.Errorf("%s: volume %g, %d shells, top %v, unit %s; want %g, %d, %v, %s", c.what, m.Volume(), top.Shells, m.Box().Max, facts.Unit, c.volume, c.shells, c.top, c.unit)
		}
		for _, n := range facts.Notes {
			switch {
			case c.what == "support left out" && (strings.Contains(n, "1 object of type support was left out") || strings.Contains(n, "1 object of type other")):
			case c.what == "foot" && strings.Contains(n, "12 to a foot"):
			case c.what == "all that XML allows" && strings.Contains(n, "urn:v"):
			default:
				t.Errorf("%s: note %q", c.what, n)
			}
		}
	}
}

// Test3MFThatIsRefused holds each message to the words that matter.
func Test3MFThatIsRefused(t *testing.T) {
	one := resources(tetra(1, "")) + built3MF
	in := func(old, new string) []byte { return model3MF(strings.Replace(one, old, new, 1)) }
	required := func(space string) []byte {
		return in("<model", `<model requiredextensions="e" xmlns:e="`+space+`"`)
	}
	good := model3MF(one)
	torn := bytes.Clone(good)
	torn[bytes.Index(torn, []byte("3D/a.model"))+40] ^= 0x55
	locked := bytes.Clone(good)
	locked[bytes.LastIndex(locked, []byte("PK\x01\x02"))+8] |= 1
	packed := bytes.Clone(good)
	packed[bytes.LastIndex(packed, []byte("PK\x01\x02"))+10] = 12
	liar := model3MF(head3MF + strings.Repeat(" ", 80<<20) + "</model>")
	binary.LittleEndian.PutUint32(liar[bytes.LastIndex(liar, []byte("PK\x01\x02"))+24:], 100)
	laughs := ""
	for i := 2; i < 40; i++ {
		laughs += fmt.Sprintf(`<object id="%d"><components><component objectid="%d"/><component objectid="%d"/></components></object>`, i, i-1, i-1)
	}
	for _, c := range []struct {
		what string
		data []byte
		say  string
	}{
		{"half", good[:len(good)/2], "no whole zip archive"},
		{"torn", torn, "3D/a.model"},
		{"locked", locked, "encrypted"},
		{"packed", packed, "neither stored nor deflated"},
		{"no rels", pack("3D/a.model", one), "without _rels/.rels"},
		{"other zip", pack("word/document.xml", "<a/>"), "no 3MF file"},
		{"no relationship", pack("_rels/.rels", `<Relationships xmlns="`+nsRels+`"/>`, "3D/a.model", one), "names no 3D model"},
		{"rels empty", pack("_rels/.rels", ``, "3D/a.model", one), "XML ends"},
		{"two roots", pack("_rels/.rels", strings.Replace(rels3MF, "<Relationship ", `<Relationship Id="x" Target="/b" Type="`+relModel+`"/><Relationship `, 1), "3D/a.model", one), "names 2 3D models"},
		{"outside", pack("_rels/.rels", strings.Replace(rels3MF, "/3D", "http://example.org/3D", 1)), "part outside it"},
		{"external", pack("_rels/.rels", strings.Replace(rels3MF, "Id=", `TargetMode="External" Id=`, 1)), "lies outside it"},
		{"up", pack("_rels/.rels", strings.Replace(rels3MF, "/3D", "/../3D", 1), "../3D/a.model", one), "part outside it"},
		{"up, hidden", pack("_rels/.rels", strings.Replace(rels3MF, "/3D", "/%2e%2e/3D", 1), "../3D/a.model", one), "part outside it"},
		{"back", pack("_rels/.rels", strings.Replace(rels3MF, "/3D/", `\\host\3D\`, 1)), "part outside it"},
		{"absolute", pack("_rels/.rels", rels3MF, "/3D/a.model", one), "no part /3D/a.model"},
		{"twice", pack("_rels/.rels", rels3MF, "3D/a.model", one, "3d/A.MODEL", one), "two parts named"},
		{"no part", pack("_rels/.rels", rels3MF), "no part /3D/a.model"},
		{"path up", pack("_rels/.rels", rels3MF, "3D/a.model", resources("")+`<build><item objectid="1" p:path="../../x.model"/></build></model>`), "no part of the package"},
		{"path away", pack("_rels/.rels", rels3MF, "3D/a.model", resources("")+`<build><item objectid="1" p:path="/3D/x.model"/></build></model>`), "no part /3D/x.model"},
		{"path, other unit", pack("_rels/.rels", rels3MF, "3D/a.model", resources("")+`<build><item objectid="1" p:path="/b.model"/></build></model>`, "b.model", strings.Replace(one, "<model", `<model unit="inch"`, 1)), "in the unit inch"},
		{"dangling", in(`<item objectid="1"`, `<item objectid="14"`), "a.3mf:/3D/a.model:1: object 14 is named here"},
		{"dangling component", model3MF(resources(`<object id="1"><components><component objectid="3"/></components></object>`) + built3MF), "object 3 is named here"},
		{"itself", model3MF(resources(`<object id="1"><components><component objectid="1"/></components></object>`) + built3MF), "object 1 holds itself"},
		{"round", model3MF(resources(`<object id="1"><components><component objectid="2"/></components></object><object id="2"><components><component objectid="1"/></components></object>`) + built3MF), "holds itself"},
		{"laughs", model3MF(resources(tetra(1, "")+laughs) + strings.Replace(built3MF, `"1"`, `"39"`, 1)), "more than the"},
		{"same id", model3MF(resources(tetra(1, "")+tetra(1, "")) + built3MF), "two objects have the number 1"},
		{"id 0", in(`object id="1"`, `object id="0"`), "no number of an object"},
		{"type", in(`object id="1"`, `object type="ghost" id="1"`), "no type of object"},
		{"unit", in("<model", `<model unit="ell"`), `"ell" is no unit of 3MF`},
		{"empty build", in(`<item objectid="1"/>`, ``), "build of the 3MF file is empty: 1 objects"},
		{"only supports", in(`object id="1"`, `object type="support" id="1"`), "only supports"},
		{"corner", in(`v3="1"`, `v3="4"`), "names corners [0 2 4]; corners are numbered from 0 to 3"},
		{"corner below", in(`v3="1"`, `v3="-1"`), `triangle 0 has no number v3: "-1"`},
		{"no corner", in(`v3="1"`, ``), "triangle 0 has no number v3"},
		{"no z", in(` z="0"`, ``), "corner 0 has no number z"},
		{"comma", in(`x="6"`, `x="6,0"`), `corner 1 has no number x: "6,0"`},
		{"NaN", in(`x="6"`, `x="NaN"`), "not a finite number"},
		{"Inf", in(`x="6"`, `x="1e999"`), "not a finite number"},
		{"eleven", in(`<item`, `<item transform="1 0 0 0 1 0 0 0 1 0 0"`), "11 numbers and not 12"},
		{"flat", in(`<item`, `<item transform="1 0 0 0 1 0 0 0 0 0 0 0"`), "flattens"},
		{"far", in(`<item`, `<item transform="1e200 0 0 0 1e200 0 0 0 1e200 0 0 0"`), "flattens the object or throws it"},
		{"word", in(`<item`, `<item transform="1 0 0 0 1 0 0 0 x 0 0 0"`), `"x" in a transform`},
		{"type of document", in("<model", `<!DOCTYPE model [<!ENTITY a "aaaa">]><model`), "document type"},
		{"entity", in(`x="6"`, `x="&six;"`), "entity"},
		{"deep", in("<resources>", "<resources>"+strings.Repeat("<a>", 200)), "128 deep"},
		{"long", in("<resources>", "<resources><a b='"+strings.Repeat("x", 2<<20)+"'/>"), "more than a megabyte"},
		{"crossed", in("</mesh>", "</maze>"), "closes another element"},
		{"open end", in("</model>", ""), "ends before"},
		{"prefix", in("<mesh>", "<q:mesh>"), "prefix that has no namespace"},
		{"attribute twice", in(`x="6"`, `x="6" x="7"`), "attribute twice"},
		{"no quotes", in(`x="6"`, `x=6`), "tag that is wrong"},
		{"other root", model3MF(`<amf/>`), "does not begin with a model"},
		{"unknown prefix required", in("<model", `<model requiredextensions="zz"`), "does not say what that is"},
		{"beams", required("http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02"), `extension "beam lattice"`},
		{"slices", required("http://schemas.microsoft.com/3dmanufacturing/slice/2015/07"), `extension "slice"`},
		{"secret", required("http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/04"), `extension "secure content"`},
		{"unknown", required("urn:of:no:one"), `extension "urn:of:no:one"`},
		{"bomb", model3MF(head3MF + strings.Repeat(" ", 80<<20) + "</model>"), "unfolds to more"},
		{"bomb that says it is small", liar, "unfolds to more"},
		{"triangle bomb", model3MF(head3MF + `<resources><object id="1"><mesh><vertices>` + strings.Repeat(`<vertex x="0" y="0" z="0"/>`, 3<<20)), "unfolds to more"},
	} {
		_, _, err := Parse(c.data, "a.3mf", Options{})
		if err == nil {
			t.Errorf("%s was read; want %q", c.what, c.say)
			continue
		}
		if fault.KindOf(err) != fault.Input || fault.HintOf(err) == "" || !strings.HasPrefix(err.Error(), "a.3mf") {
			t.Errorf("%s: %q: kind %d, hint %q", c.what, err, fault.KindOf(err), fault.HintOf(err))
		}
		if !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: said %q; want %q", c.what, err, c.say)
		}
	}
}

// Test3MFNamesWhatItIgnores reads a file with a beam lattice that is not required.
func Test3MFNamesWhatItIgnores(t *testing.T) {
	text := strings.Replace(resources(tetra(1, ""))+built3MF, "<model", `<model xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" xmlns:u="urn:u"`, 1)
	text = strings.Replace(text, "</triangles>", `</triangles><b:beamlattice radius="1"/>`, 1)
	text = strings.Replace(text, "<item", `<item u:plate="2"`, 1)
	_, facts, err := Parse(model3MF(text), "a.3mf", Options{})
	if want := []string{"The file also uses what is not read: beam lattice, urn:u."}; err != nil || !slices.Equal(facts.Notes, want) {
		t.Errorf("%v, notes %q", err, facts.Notes)
	}
}

// TestWrittenAndReadAgain holds volume, area and topology of binary STL and 3MF
// to those of the mesh that was written.
func TestWrittenAndReadAgain(t *testing.T) {
	m := torus(90, 40)
	ball := outside.Ball(3, 11)
	for i := range ball.V {
		ball.V[i] = ball.V[i].Mul(1.0 / 3).Add(vec.V3{X: 100})
	}
	m.Append(ball)
	want := mesh.TopologyOf(m)
	var pack bytes.Buffer
	if err := Write3MF(&pack, Object{"both", m}); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		data []byte
		tol  float64
	}{"a.stl": {stlBytes(m), 1e-6}, "a.3mf": {pack.Bytes(), 1e-13}} {
		got, facts, err := Parse(c.data, name, Options{})
		if err != nil {
			t.Fatal(err)
		}
		top := mesh.TopologyOf(got)
		if top.Shells != want.Shells || !top.Watertight || *top.Genus != *want.Genus || facts.Triangles != len(m.F) || top.Corners != want.Corners {
			t.Errorf("%s: %d shells, genus %v, %d triangles, %d corners", name, top.Shells, top.Genus, facts.Triangles, top.Corners)
		}
		if math.Abs(got.Volume()/m.Volume()-1) > c.tol || math.Abs(got.Area()/m.Area()-1) > c.tol {
			t.Errorf("%s: volume %g and area %g became %g and %g", name, m.Volume(), m.Area(), got.Volume(), got.Area())
		}
	}
	// Two objects come back as the two.
	pack.Reset()
	if err := Write3MF(&pack, Object{"a", torus(9, 7)}, Object{"b", ball}); err != nil {
		t.Fatal(err)
	}
	got, facts, err := Parse(pack.Bytes(), "a.3mf", Options{})
	if err != nil || facts.Unit != "mm" || mesh.TopologyOf(got).Shells != 2 || math.Abs(got.Volume()-torus(9, 7).Volume()-ball.Volume()) > 1e-9 {
		t.Errorf("two objects: %v, unit %s", err, facts.Unit)
	}
}

// TestXMLAgreesWithTheStandardLibrary walks texts with both readers.
func TestXMLAgreesWithTheStandardLibrary(t *testing.T) {
	for _, text := range []string{
		resources(tetra(1, "")) + built3MF, rels3MF, `<a/>`, `<a b="1" c='2'><!-- x --><d e="&lt;&gt;&amp;&quot;&apos;&#65;&#x42;"/>text<![CDATA[<z>]]></a>`,
		`<x:a xmlns:x="urn:1" xmlns="urn:2"><b x:c="3" d="4"/><x:b xmlns:x="urn:5" x:e="6"/><b xmlns=""/></x:a>`, "<a\n\tb = \"1\"\r\n></a\n>",
	} {
		ours, err := walkOurs(text)
		theirs, other := walkTheirs(text)
		if err != nil || other != nil || ours != theirs {
			t.Errorf("%q:\nours   %s %v\ntheirs %s %v", text, ours, err, theirs, other)
		}
	}
}

func walkOurs(text string) (string, error) {
	out := ""
	x := newXML(oneByte{strings.NewReader(text)})
	for {
		start, err := x.next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		if !start {
			out += ") "
			continue
		}
		out += fmt.Sprintf("{%s}%s(", x.space, x.local)
		for _, a := range x.attr {
			out += fmt.Sprintf("{%s}%s=%q ", a.space, a.local, a.value)
		}
	}
}

func walkTheirs(text string) (string, error) {
	out := ""
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return out, err
		}
		switch e := tok.(type) {
		case xml.StartElement:
			out += fmt.Sprintf("{%s}%s(", e.Name.Space, e.Name.Local)
			for _, a := range e.Attr {
				if a.Name.Space != "xmlns" && a.Name.Local != "xmlns" {
					out += fmt.Sprintf("{%s}%s=%q ", a.Name.Space, a.Name.Local, a.Value)
				}
			}
		case xml.EndElement:
			out += ") "
		}
	}
}

// oneByte hands out one byte at a time, so that every tag meets the end of
// the window.
type oneByte struct{ r io.Reader }

func (o oneByte) Read(p []byte) (int, error) { return o.r.Read(p[:min(1, len(p))]) }
