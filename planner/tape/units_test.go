package tape

import (
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// A wrong unit does not compile: the compiler's own type checker is asked.
func TestWrongUnitDoesNotCompile(t *testing.T) {
	// What the go command has compiled already tells the types of a package.
	out, err := exec.Command("go", "list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}", "longside/planner/tape").Output()
	if err != nil {
		t.Fatal(err)
	}
	compiled := map[string]string{}
	for line := range strings.Lines(string(out)) {
		if name, file, ok := strings.Cut(strings.TrimSpace(line), " "); ok {
			compiled[name] = file
		}
	}
	fset := token.NewFileSet()
	from := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(compiled[path]) })
	check := func(statement string) error {
		src := "package p\n\nimport (\n\t\"time\"\n\n\t\"longside/planner/tape\"\n)\n\nfunc f(t tape.Tape, mm tape.Millimetres, um tape.Micrometres, m tape.Metres, at time.Duration, s float64) {\n\t" + statement + "\n}\n"
		file, err := parser.ParseFile(fset, "p.go", src, 0)
		if err != nil {
			t.Fatal(err)
		}
		_, err = (&types.Config{Importer: from}).Check("p", fset, []*ast.File{file}, nil)
		return err
	}
	for _, s := range []string{
		"t.Thickness = um", "t.Length = m", "t.Hub = mm", "_ = t.SupplyFallsTo(mm)", "_ = t.TakeUp(at)",
		"_ = tape.Readings{Hub: mm, Side: at}", "_ = tape.Width{Wide: mm}", "_ = mm + t.FullRadius()",
	} {
		if err := check(s); err != nil {
			t.Errorf("%s does not compile: %v", s, err)
		}
	}
	for _, s := range []string{
		"t.Thickness = mm", "t.Length = mm", "t.Hub = um", "_ = t.SupplyFallsTo(um)", "_ = t.TakeUp(s)",
		"_ = tape.Readings{Hub: m}", "_ = tape.Readings{Side: s}", "_ = tape.Width{Wide: um}", "_ = um + t.FullRadius()", "_ = t.Tail(um, 1.8)",
	} {
		if check(s) == nil {
			t.Errorf("%s compiles", s)
		}
	}
}
