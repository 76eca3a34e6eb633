package plan

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"paintout/analyze/photo"
)

// schemaOf writes the JSON Schema of a type of this package, its comments as
// the descriptions.
func schemaOf(t *testing.T, root string) []byte {
	t.Helper()
	types := map[string]*ast.TypeSpec{}
	docs := map[string]string{}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.TYPE {
				continue
			}
			for _, s := range g.Specs {
				spec := s.(*ast.TypeSpec)
				types[spec.Name.Name] = spec
				docs[spec.Name.Name] = strings.Join(strings.Fields(g.Doc.Text()), " ")
			}
		}
	}
	defs := map[string]any{}
	var of func(e ast.Expr, nullable bool) map[string]any
	var object func(name string) map[string]any
	of = func(e ast.Expr, nullable bool) map[string]any {
		kind := func(s string) any {
			if nullable {
				return []any{s, "null"}
			}
			return s
		}
		switch x := e.(type) {
		case *ast.Ident:
			switch x.Name {
			case "string":
				return map[string]any{"type": "string"}
			case "bool":
				return map[string]any{"type": "boolean"}
			case "int":
				return map[string]any{"type": "integer"}
			case "float64":
				return map[string]any{"type": "number"}
			}
			if defs[x.Name] == nil {
				defs[x.Name] = true // while it is made, for types that hold themselves
				defs[x.Name] = object(x.Name)
			}
			return map[string]any{"$ref": "#/$defs/" + x.Name}
		case *ast.StarExpr:
			inner := of(x.X, false)
			if nullable {
				return map[string]any{"anyOf": []any{inner, map[string]any{"type": "null"}}}
			}
			return inner
		case *ast.ArrayType:
			out := map[string]any{"items": of(x.Elt, false)}
			if n, ok := x.Len.(*ast.BasicLit); ok {
				out["type"] = "array"
				var size int
				fmt.Sscan(n.Value, &size)
				out["minItems"], out["maxItems"] = size, size
				return out
			}
			out["type"] = kind("array")
			return out
		case *ast.MapType:
			if k := x.Key.(*ast.Ident).Name; k != "int" && k != "string" {
				t.Fatalf("a map by %s is not foreseen", k)
			}
			return map[string]any{"type": kind("object"), "additionalProperties": of(x.Value, true)}
		case *ast.SelectorExpr:
			if x.X.(*ast.Ident).Name == "lab" && x.Sel.Name == "Lab" {
				return map[string]any{"type": "array", "items": map[string]any{"type": "number"}, "minItems": 3, "maxItems": 3,
					"description": "CIELAB L*, a*, b*: D65, 2° observer"}
			}
		}
		t.Fatalf("a field of type %T is not foreseen", e)
		return nil
	}
	object = func(name string) map[string]any {
		spec := types[name]
		if spec == nil {
			t.Fatalf("no type %s", name)
		}
		s, ok := spec.Type.(*ast.StructType)
		if !ok {
			return of(spec.Type, false)
		}
		properties := map[string]any{}
		required := []any{}
		add := func(props map[string]any, need []any) {
			for k, v := range props {
				properties[k] = v
			}
			required = append(required, need...)
		}
		for _, f := range s.Fields.List {
			if len(f.Names) == 0 { // embedded: its fields stand here
				inner := object(f.Type.(*ast.Ident).Name)
				add(inner["properties"].(map[string]any), inner["required"].([]any))
				continue
			}
			if f.Tag == nil {
				t.Fatalf("%s.%s has no name in JSON", name, f.Names[0].Name)
			}
			tag, options, _ := strings.Cut(reflect.StructTag(strings.Trim(f.Tag.Value, "`")).Get("json"), ",")
			if tag == "-" {
				continue
			}
			optional := strings.Contains(options, "omitempty")
			p := of(f.Type, !optional)
			says := strings.TrimSpace(f.Doc.Text() + " " + f.Comment.Text())
			if says != "" {
				says = strings.Join(strings.Fields(says), " ")
				if d, ok := p["description"].(string); ok {
					says = says + "; " + d
				}
				p["description"] = says
			}
			add(map[string]any{tag: p}, nil)
			if !optional {
				required = append(required, tag)
			}
		}
		out := map[string]any{"type": "object", "properties": properties, "required": required}
		if d := docs[name]; d != "" {
			out["description"] = d
		}
		return out
	}
	top := object(root)
	top["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	top["$id"] = "urn:paintout:plan"
	top["title"] = "A paint plan"
	top["$defs"] = defs
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(top); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The published schema is that of the types as they are.
func TestSchemaIsOfTheTypes(t *testing.T) {
	want := schemaOf(t, "Plan")
	if bytes.Equal(Schema, want) {
		return
	}
	if os.Getenv("PAINTOUT_UPDATE") != "" {
		if err := os.WriteFile("plan.schema.json", want, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	t.Error("the types of a plan have changed: PAINTOUT_UPDATE=1 go test ./cmd/internal/plan -run Schema writes plan.schema.json anew")
}

// A real plan meets the schema by a validator of draft 2020-12 that shares
// nothing with its maker; plans that lack something or hold the wrong kind of
// value do not. Saved and read back, the plan is the same.
func TestPlansMeetTheSchema(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("urn:paintout:plan", doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("urn:paintout:plan")
	if err != nil {
		t.Fatal(err)
	}
	scene := filepath.Join("..", "..", "..", "testdata", "marrow-sound.jpg")
	canvas, err := photo.ParseCanvas("30x40cm")
	if err != nil {
		t.Fatal(err)
	}
	v := View{K: 6, Film: Film{Name: "brush", Microns: 108}}
	v.Photo.Canvas = &canvas
	p, _, err := makeOne(context.Background(), starter(t), scene, v, nil)
	if err != nil {
		t.Fatal(err)
	}
	data, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	read := func() map[string]any {
		t.Helper()
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		return v.(map[string]any)
	}
	if err := schema.Validate(read()); err != nil {
		t.Fatalf("a real plan does not meet the schema: %v", err)
	}
	if p.Quantities == nil || p.Kit == nil {
		t.Error("the plan lacks its kit or its quantities, so less is checked than there is")
	}
	described(t, "plan", doc.(map[string]any), doc.(map[string]any), read())
	mass := func(v map[string]any) map[string]any { return v["masses"].([]any)[0].(map[string]any) }
	for name, spoil := range map[string]func(map[string]any){
		"no masses":          func(v map[string]any) { delete(v, "masses") },
		"a value in words":   func(v map[string]any) { mass(v)["value"] = "light" },
		"a colour of two":    func(v map[string]any) { mass(v)["aim"] = []any{json.Number("1"), json.Number("2")} },
		"half a mass number": func(v map[string]any) { mass(v)["id"] = json.Number("1.5") },
		"a tube without ci":  func(v map[string]any) { delete(v["box"].(map[string]any)["tubes"].([]any)[0].(map[string]any), "ci") },
	} {
		v := read()
		spoil(v)
		if schema.Validate(v) == nil {
			t.Errorf("a plan with %s meets the schema", name)
		}
	}

	path := filepath.Join(t.TempDir(), "plan.json")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	back, err := Load(path)
	if err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(back)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(data, again) {
		t.Error("a plan that is saved and read back is another")
	}
}

// described finds what a plan holds and the schema does not name.
func described(t *testing.T, at string, root, schema map[string]any, v any) {
	t.Helper()
	if ref, ok := schema["$ref"].(string); ok {
		schema = root["$defs"].(map[string]any)[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any)
	}
	switch x := v.(type) {
	case map[string]any:
		props, _ := schema["properties"].(map[string]any)
		for k, inner := range x {
			s, ok := props[k].(map[string]any)
			if !ok {
				s, ok = schema["additionalProperties"].(map[string]any)
			}
			if !ok {
				t.Errorf("%s.%s is not in the schema", at, k)
				continue
			}
			described(t, at+"."+k, root, s, inner)
		}
	case []any:
		if items, ok := schema["items"].(map[string]any); ok {
			for _, inner := range x {
				described(t, at+"[]", root, items, inner)
			}
		}
	}
}

func TestLoadRefuses(t *testing.T) {
	dir := t.TempDir()
	put := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for path, want := range map[string]string{
		filepath.Join(dir, "none.json"):             "cannot be read",
		dir:                                         "is no file",
		put("words.json", "a hillside"):             "not the JSON of a plan",
		put("list.json", "[1, 2]"):                  "not the JSON of a plan",
		put("empty.json", "{}"):                     "holds no masses",
		put("lab.json", `{"masses":[{"lab":[1]}]}`): "not the JSON of a plan",
	} {
		_, err := Load(path)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "plan.json of a plan's folder") {
			t.Errorf("%s: %v", path, err)
		}
	}
}
