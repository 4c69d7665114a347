package meshfile

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// hostile are small files that try to fill the memory. Those that are refused
// must be refused, the others may be read.
func hostile() map[string][]byte {
	repeat := func(head, one string, tail string) string {
		return head + strings.Repeat(one, (inflateFloor-len(head)-len(tail)-1000)/len(one)) + tail
	}
	corners := head3MF + `<resources><object id="1"><mesh><vertices><vertex x="1" y="0" z="0"/><vertex x="0" y="1" z="0"/><vertex x="0" y="0" z="1"/>`
	laughs := ""
	for i := 2; i < 90; i++ {
		laughs += fmt.Sprintf(`<object id="%d"><components><component objectid="%d"/><component objectid="%d"/></components></object>`, i, i-1, i-1)
	}
	list := func(one string, n int) string { return strings.TrimSuffix(strings.Repeat(one+",", n), ",") }
	var directory bytes.Buffer
	z := zip.NewWriter(&directory)
	for i := range 400_000 {
		z.CreateRaw(&zip.FileHeader{Name: strconv.Itoa(i)})
	}
	z.Close()
	document := func(name, one string, n int) []byte {
		return glbOf(`{"asset":{"version":"2.0"},"`+name+`":[`+list(one, n)+`]}`, nil)
	}
	nested := tetraScene()
	nested.primitive = list(tetraPrimitive, 90_000)
	nested.nodes = `{"children":[1` + func() string {
		var b strings.Builder
		for i := 2; i < 90_000; i++ {
			fmt.Fprintf(&b, ",%d", i)
		}
		return b.String()
	}() + `]},` + list(`{"mesh":0}`, 89_999)
	return map[string][]byte{
		"spaces.3mf":     model3MF(head3MF + strings.Repeat(" ", 1<<28)),
		"one-tag.3mf":    model3MF(head3MF + "<a b='" + strings.Repeat("x", 40<<20) + "'/>"),
		"comment.3mf":    model3MF(head3MF + "<!--" + strings.Repeat("x", 40<<20) + "--></model>"),
		"corners.3mf":    model3MF(repeat(corners, `<vertex x="0" y="0" z="0"/>`, `</vertices><triangles><triangle v1="0" v2="1" v3="2"/></triangles></mesh></object></resources>`+built3MF)),
		"triangles.3mf":  model3MF(repeat(corners+"</vertices><triangles>", `<triangle v1="0" v2="1" v3="2"/>`, `</triangles></mesh></object></resources>`+built3MF)),
		"objects.3mf":    model3MF(repeat(head3MF+"<resources>", `<object id="1"/>`, "</resources>")),
		"components.3mf": model3MF(repeat(head3MF+`<resources><object id="1"><components>`, `<component objectid="2"/>`, `</components></object></resources>`+built3MF)),
		"laughs.3mf":     model3MF(resources(tetra(1, "")+laughs) + strings.Replace(built3MF, `"1"`, `"89"`, 1)),
		"nothing.3mf":    model3MF(resources(`<object id="1"/>`+laughs) + strings.Replace(built3MF, `"1"`, `"89"`, 1)),
		"names.3mf":      model3MF(head3MF + strings.Repeat(`<a xmlns:a="urn:a">`, 120)),
		"directory.3mf":  directory.Bytes(),
		"nodes.glb":      document("nodes", "{}", 3_000_000),
		"pieces.glb":     document("meshes", `{"primitives":[`+list("{}", 90_000)+`]}`, 30),
		"zeros.glb":      []byte(strings.Replace(string(tetraScene().gltf()), `"bufferView":1,"componentType":5123,"count":12`, `"componentType":5123,"count":2000000000`, 1)),
		"placed.glb":     nested.glb(),
		"zeros.stl.gz":   zeros("", 1<<28),
		"faces.obj.gz":   gzipped([]byte(repeat("v 1 0 0\nv 0 1 0\nv 0 0 1\n", "f 1 2 3\n", ""))),
		"fans.obj.gz":    gzipped([]byte(repeat("v 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 2", " 3 1 2", "\n"))),
		"corners.obj.gz": gzipped([]byte(repeat("v 1 0 0\nv 0 1 0\nv 0 0 1\nf 1 2 3\n", "v 0 0 0\n", ""))),
		"corners.off.gz": gzipped([]byte(repeat("OFF 8000000 1 0\n1 0 0\n0 1 0\n0 0 1\n", "0 0 0\n", "\n3 0 1 2\n"))),
		"counts.ply.gz":  gzipped([]byte(repeat("ply\nformat ascii 1.0\nelement vertex 9999999999\nproperty char x\nproperty char y\nproperty char z\nend_header\n", "0 0 0\n", ""))),
		"facets.stl.gz":  gzipped([]byte(repeat("solid\n", "facet outer loop vertex 0 0 1 vertex 0 1 0 vertex 1 0 0 endloop endfacet\n", "endsolid"))),
	}
}

// TestHostileFilesStayWithin300MB reads each in a process of its own and looks
// at the most memory that this ever held.
func TestHostileFilesStayWithin300MB(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("not run: the peak of a process is read from /proc")
	}
	if path := os.Getenv("POURWRIGHT_HOSTILE"); path != "" {
		_, _, err := Read(path, Options{})
		status, _ := os.ReadFile("/proc/self/status")
		_, rest, _ := strings.Cut(string(status), "VmHWM:")
		fmt.Fprintf(os.Stderr, "%s kB %v\n", strings.Fields(rest)[0], err)
		return
	}
	dir := t.TempDir()
	for name, data := range hostile() {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(os.Args[0], "-test.run", "^"+t.Name()+"$")
		c.Env = append(os.Environ(), "POURWRIGHT_HOSTILE="+path)
		c.Stdout = io.Discard
		var said bytes.Buffer
		c.Stderr = &said
		if err := c.Run(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, &said)
		}
		kb, err := strconv.Atoi(strings.Fields(said.String())[0])
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%-15s %8d bytes, %4d MB: %.150s", name, len(data), kb/1000, strings.TrimSpace(said.String()))
		if kb > 300_000 {
			t.Errorf("%s: %d MB held", name, kb/1000)
		}
		os.Remove(path)
	}
}
