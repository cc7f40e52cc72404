package knowledge

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"reflect"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

const maxFileSize = 4 << 20

// Load reads every .yaml file below the root of fsys and checks all that can
// be checked without compiling expressions. The error is Problems when the
// pack is at fault; the pack is then still returned as far as it was read, so
// that a caller can look for more.
func Load(fsys fs.FS) (*Pack, error) {
	names, err := packFiles(fsys)
	if err != nil {
		return nil, err
	}
	p := &Pack{}
	var problems Problems
	sum := sha256.New()
	parsed := make([]parsedFile, len(names))
	var parsing sync.WaitGroup
	for i, name := range names {
		src, err := readFile(fsys, name)
		if err != nil {
			parsing.Wait()
			return nil, fmt.Errorf("reading pack: %w", err)
		}
		fmt.Fprintf(sum, "%s\x00%d\x00", name, len(src))
		sum.Write(src)
		parsing.Go(func() { parsed[i].documents = parseFile(name, src, &parsed[i].problems) })
	}
	parsing.Wait()
	for _, f := range parsed {
		problems = append(problems, f.problems...)
		for _, d := range f.documents {
			p.add(d)
		}
	}
	p.Hash = "sha256:" + hex.EncodeToString(sum.Sum(nil))
	p.index(&problems)
	p.addPhrases(&problems)
	p.validate(&problems)
	return p, problems.Err()
}

// parsedFile is what came of one file; files are parsed side by side.
type parsedFile struct {
	documents []file
	problems  Problems
}

func packFiles(fsys fs.FS) ([]string, error) {
	var names []string
	err := fs.WalkDir(fsys, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !e.IsDir() && (path.Ext(name) == ".yaml" || path.Ext(name) == ".yml") {
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("looking for pack files: %w", err)
	}
	if len(names) == 0 {
		return nil, Problems{{Wrong: "no .yaml file here", Advice: "write the starter pack out with: ferrule pack init DIR"}}
	}
	slices.Sort(names)
	return names, nil
}

func readFile(fsys fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(fsys, name)
	if err != nil {
		return nil, err
	}
	if info.Size() > maxFileSize {
		return nil, Problems{{Pos: Pos{File: name, Line: 1, Column: 1}, Wrong: fmt.Sprintf("the file has %d bytes", info.Size()), Advice: "a pack file has at most 4 MB"}}
	}
	return fs.ReadFile(fsys, name)
}

// parseFile reads the documents of one file. It never panics on foreign input: a panic of the
// YAML library becomes a problem of that file.
func parseFile(name string, src []byte, problems *Problems) (documents []file) {
	defer func() {
		if r := recover(); r != nil {
			problems.Add(Pos{File: name, Line: 1, Column: 1}, "look for unbalanced brackets or quotes", "the file can't be read as YAML: %v", r)
		}
	}()
	tree, err := parser.ParseBytes(src, parser.ParseComments)
	if err != nil {
		problems.Add(syntaxPos(name, err), "check the indentation, and put texts with : or # in quotes", "not YAML: %s", syntaxMessage(err))
		return nil
	}
	d := &decoder{file: name, problems: problems}
	for _, doc := range tree.Docs {
		if doc.Body == nil {
			continue
		}
		if _, comment := doc.Body.(*ast.CommentGroupNode); comment {
			continue
		}
		var one file
		d.decode(doc.Body, reflect.ValueOf(&one).Elem())
		documents = append(documents, one)
	}
	return documents
}

func syntaxPos(name string, err error) Pos {
	pos := Pos{File: name, Line: 1, Column: 1}
	var syntax *yaml.SyntaxError
	if errors.As(err, &syntax) && syntax.Token != nil && syntax.Token.Position != nil {
		pos.Line, pos.Column = syntax.Token.Position.Line, syntax.Token.Position.Column
	}
	return pos
}

func syntaxMessage(err error) string {
	var syntax *yaml.SyntaxError
	if errors.As(err, &syntax) {
		return syntax.Message
	}
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}

func (p *Pack) add(f file) {
	p.Hazards = append(p.Hazards, f.Hazards...)
	p.Readings = append(p.Readings, f.Readings...)
	p.Symptoms = append(p.Symptoms, f.Symptoms...)
	p.Equipment = append(p.Equipment, f.Equipment...)
	p.Causes = append(p.Causes, f.Causes...)
	p.Rules = append(p.Rules, f.Rules...)
	p.Evidence = append(p.Evidence, f.Evidence...)
	p.Phrases = append(p.Phrases, f.Phrases...)
	p.Concepts = append(p.Concepts, f.Concepts...)
}
